//! Many pieces of work on all threads, told in order; a panic in one harms no other.

use super::guard;
use crate::findings::Outcome;
use std::ops::ControlFlow;
use std::sync::mpsc::{self, Receiver};
use std::thread;

/// Does all tasks on all threads and hands what comes of them to `tell`, in the order of the tasks, as
/// soon as it is there. A panic in a task is its own fault.
///
/// No more than two tasks a thread (and one that waits) are begun and not told, so that what they hold
/// stays bounded however long the list is and however slow one of them. When `tell` breaks off, no
/// further task is begun.
pub(super) fn in_order<T: Send, R: Send>(
    tasks: impl Iterator<Item = T> + Send,
    work: impl Fn(T) -> Outcome<R> + Sync,
    mut tell: impl FnMut(Outcome<R>) -> ControlFlow<()>,
) {
    let (queue, answers) =
        mpsc::sync_channel::<Receiver<Outcome<R>>>(2 * rayon::current_num_threads());
    thread::scope(|scope| {
        let work = &work;
        scope.spawn(move || {
            rayon::in_place_scope_fifo(|threads| {
                for task in tasks {
                    let (done, answer) = mpsc::sync_channel(1);
                    // Fails only when nobody listens any more; so below.
                    if queue.send(answer).is_err() {
                        break;
                    }
                    threads.spawn_fifo(move |_| {
                        let _ = done.send(guard::guarded(|| work(task)));
                    });
                }
            });
        });
        let results = answers.iter().filter_map(|answer| answer.recv().ok());
        for result in results {
            if tell(result).is_break() {
                break;
            }
        }
        drop(answers);
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    #[test]
    fn results_come_in_order_whatever_takes_longest() {
        let slow_first = |n: u64| {
            thread::sleep(Duration::from_millis(20 - n));
            Ok(n * n)
        };
        let mut told = Vec::new();
        in_order(0..20, slow_first, |square| {
            told.extend(square);
            ControlFlow::Continue(())
        });
        assert_eq!(told, (0..20).map(|n| n * n).collect::<Vec<_>>());
    }

    #[test]
    fn a_panic_stands_in_its_place_and_stops_no_other() {
        let work = |n: usize| {
            assert!(n % 3 != 1, "task {n}");
            Ok(n)
        };
        let mut told = Vec::new();
        in_order(0..9, work, |result| {
            told.push(result.map_err(|fault| fault.code));
            ControlFlow::Continue(())
        });
        let wanted = (0..9).map(|n| {
            if n % 3 == 1 {
                Err("program.defect")
            } else {
                Ok(n)
            }
        });
        assert_eq!(told, wanted.collect::<Vec<_>>());
    }

    /// While the first task is slow, no more than the promised number are begun.
    #[test]
    fn tasks_that_are_begun_and_not_told_are_bounded() {
        let (begun, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let work = |n: usize| {
            if n == 0 {
                thread::sleep(Duration::from_millis(100));
            }
            Ok(n)
        };
        let tasks = (0..1000).inspect(|_| {
            begun.fetch_add(1, Ordering::SeqCst);
        });
        let mut told = 0;
        in_order(tasks, work, |_| {
            most.fetch_max(begun.load(Ordering::SeqCst) - told, Ordering::SeqCst);
            told += 1;
            ControlFlow::Continue(())
        });
        assert_eq!(told, 1000);
        // The queue, one at the writer, one at the reader.
        assert!(most.into_inner() <= 2 * rayon::current_num_threads() + 2);
    }

    #[test]
    fn breaking_off_begins_no_further_task() {
        let begun = AtomicUsize::new(0);
        let tasks = (0..100_000).inspect(|_| {
            begun.fetch_add(1, Ordering::SeqCst);
        });
        in_order(tasks, Ok, |n| match n {
            Ok(10) => ControlFlow::Break(()),
            _ => ControlFlow::Continue(()),
        });
        assert!(begun.into_inner() < 1000);
    }
}
