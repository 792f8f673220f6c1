//! The time that goes into files.

use std::env;
use time::OffsetDateTime;

/// Now, in UTC, as RFC 3339 to the second; or the time that SOURCE_DATE_EPOCH names, so that a run
/// can be repeated to the byte.
pub(super) fn timestamp() -> String {
    let fixed = env::var("SOURCE_DATE_EPOCH")
        .ok()
        .and_then(|seconds| seconds.trim().parse().ok());
    let fixed = fixed.and_then(|seconds| OffsetDateTime::from_unix_timestamp(seconds).ok());
    rfc_3339(fixed.unwrap_or_else(OffsetDateTime::now_utc))
}

fn rfc_3339(time: OffsetDateTime) -> String {
    format!(
        "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z",
        time.year(),
        u8::from(time.month()),
        time.day(),
        time.hour(),
        time.minute(),
        time.second()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 3339, section 5.8: 1985-04-12T23:20:50.52Z, without its fraction; Unix time by POSIX.
    #[test]
    fn a_time_is_written_by_rfc_3339() {
        let time = OffsetDateTime::from_unix_timestamp(482_196_050).expect("in range");
        assert_eq!(rfc_3339(time), "1985-04-12T23:20:50Z");
    }
}
