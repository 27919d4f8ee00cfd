//! Costly work for those who are not in yet: one piece at a time, and after each
//! piece everybody else goes first.
//!
//! A crowd that comes at once would otherwise have all its keys worked out in a
//! row, and what a student says would wait behind the whole of it.

use core::sync::atomic::{AtomicUsize, Ordering};

use tokio::sync::Semaphore;

/// Pieces of work at once, however many processors there are: the others are
/// for the students who are in. One's own work is a fraction of a millisecond.
pub(crate) const AT_ONCE: usize = 1;

/// The queue. Whoever comes first is worked for first.
#[derive(Debug)]
pub(crate) struct HandshakeQueue {
    free: Semaphore,
    waiting: AtomicUsize,
}

impl HandshakeQueue {
    pub(crate) fn new() -> Self {
        Self {
            free: Semaphore::new(AT_ONCE),
            waiting: AtomicUsize::new(0),
        }
    }

    /// How many wait for their turn.
    pub(crate) fn waiting(&self) -> usize {
        self.waiting.load(Ordering::Relaxed)
    }

    /// Does a piece of work once it is its turn. It must not wait for anything.
    pub(crate) async fn take<T>(&self, work: impl FnOnce() -> T) -> T {
        let waits = Waits::among(&self.waiting);
        let turn = self.free.acquire().await;
        drop(waits);
        let done = work();
        // Whatever is ready by now goes first.
        tokio::task::yield_now().await;
        drop(turn);
        done
    }
}

/// One who waits; counted until dropped, also when a connection gives up.
struct Waits<'a>(&'a AtomicUsize);

impl<'a> Waits<'a> {
    fn among(all: &'a AtomicUsize) -> Self {
        all.fetch_add(1, Ordering::Relaxed);
        Self(all)
    }
}

impl Drop for Waits<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, Mutex};

    use tokio::sync::mpsc;

    use super::*;

    /// A student who says something as often as it is heard, and a crowd that
    /// comes at once; what was done, in order.
    async fn beside_a_crowd(queue: Option<Arc<HandshakeQueue>>) -> Vec<&'static str> {
        let done = Arc::new(Mutex::new(Vec::new()));
        let note = |what| {
            let done = done.clone();
            move || done.lock().unwrap().push(what)
        };
        let crowd: Vec<_> = (0..40)
            .map(|_| {
                let (queue, work) = (queue.clone(), note("stranger"));
                tokio::spawn(async move {
                    match queue {
                        Some(queue) => queue.take(work).await,
                        None => work(),
                    }
                })
            })
            .collect();
        let (say, mut hear) = mpsc::channel(1);
        let (reply, mut replied) = mpsc::channel(1);
        tokio::spawn(async move {
            while let Some(()) = hear.recv().await {
                let _ = reply.send(()).await;
            }
        });
        let heard = note("student");
        let student = tokio::spawn(async move {
            for _ in 0..4000 {
                say.send(()).await.unwrap();
                replied.recv().await.unwrap();
                heard();
            }
        });
        for stranger in crowd {
            stranger.await.unwrap();
        }
        student.abort();
        let done = done.lock().unwrap();
        done.clone()
    }

    fn longest_row(done: &[&str]) -> usize {
        let rows = done.split(|what| *what == "student").map(<[_]>::len);
        rows.max().unwrap_or(0)
    }

    #[tokio::test(flavor = "current_thread")]
    async fn a_student_goes_between_any_two_of_a_crowd() {
        let queue = Arc::new(HandshakeQueue::new());
        let done = beside_a_crowd(Some(queue.clone())).await;
        assert_eq!(done.iter().filter(|what| **what == "stranger").count(), 40);
        // The very first may come before the student has said anything.
        assert!(longest_row(&done) <= 2, "{done:?}");
        assert_eq!(queue.waiting(), 0);
        // Without turns the student waits for the whole crowd.
        assert_eq!(longest_row(&beside_a_crowd(None).await), 40);
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 4)]
    async fn no_two_are_worked_for_at_once_and_who_gives_up_is_not_waited_for() {
        let queue = Arc::new(HandshakeQueue::new());
        let busy = Arc::new(AtomicUsize::new(0));
        let crowd: Vec<_> = (0..200)
            .map(|n| {
                let (queue, busy) = (queue.clone(), busy.clone());
                let task = tokio::spawn(async move {
                    queue
                        .take(|| {
                            let others = busy.fetch_add(1, Ordering::SeqCst);
                            std::thread::yield_now();
                            busy.fetch_sub(1, Ordering::SeqCst);
                            others
                        })
                        .await
                });
                if n % 3 == 0 {
                    task.abort();
                }
                task
            })
            .collect();
        let mut done = 0;
        for task in crowd {
            if let Ok(others) = task.await {
                assert_eq!(others, 0);
                done += 1;
            }
        }
        assert!(done >= 133, "{done}");
        assert_eq!(queue.waiting(), 0);
    }
}
