//! Writing that can be stopped.

use std::io::{self, Write};

use crate::Job;

/// Passes on what is written until its job is cancelled: so writers that know of no job can be stopped too.
#[derive(Debug)]
pub struct Stoppable<'a, W: ?Sized> {
    out: &'a mut W,
    job: &'a Job,
}

impl<'a, W: Write + ?Sized> Stoppable<'a, W> {
    /// What is written here goes to `out`.
    pub fn new(out: &'a mut W, job: &'a Job) -> Self {
        Self { out, job }
    }
}

impl<W: Write + ?Sized> Write for Stoppable<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.job.check().map_err(io::Error::other)?;
        self.out.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_more_is_written_once_it_is_stopped() {
        let (mut kept, job) = (Vec::new(), Job::silent());
        let mut out = Stoppable::new(&mut kept, &job);
        out.write_all(b"one").unwrap();
        job.cancel();
        assert!(out.write_all(b"two").is_err());
        assert_eq!(kept, b"one");
    }
}
