//! Rules in a job: order, zero, limits, messages.
