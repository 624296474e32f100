//! What was worked out on a surface and is kept for the next time.

use std::any::Any;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

/// That many are kept, the last used ones.
const MOST: usize = 4;

type One = (u64, Arc<dyn Any + Send + Sync>);

/// A few results, each under a number; clones share them.
#[derive(Clone, Default)]
pub(crate) struct Kept(Arc<Mutex<Vec<One>>>);

impl Kept {
    /// What is kept under this number with this type, or what `make` gives, which is then kept.
    pub(crate) fn get<T: Any + Send + Sync, E>(
        &self,
        number: u64,
        make: impl FnOnce() -> Result<T, E>,
    ) -> Result<Arc<T>, E> {
        if let Some(found) = self.find(number) {
            return Ok(found);
        }
        // Not locked meanwhile: others may look for other things, or be stopped.
        let made = Arc::new(make()?);
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.push((number, Arc::clone(&made) as Arc<dyn Any + Send + Sync>));
        if all.len() > MOST {
            all.remove(0);
        }
        Ok(made)
    }

    fn find<T: Any + Send + Sync>(&self, number: u64) -> Option<Arc<T>> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let at = all.iter().position(|(n, one)| *n == number && one.is::<T>())?;
        let one = all.remove(at);
        let found = Arc::clone(&one.1).downcast().ok();
        all.push(one);
        found
    }
}

impl fmt::Debug for Kept {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        f.debug_list().entries(all.iter().map(|(number, _)| number)).finish()
    }
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use super::*;

    #[test]
    fn a_few_are_kept_and_the_one_not_used_for_longest_goes() {
        let kept = Kept::default();
        let get = |n: u64, value: usize| *kept.get(n, || Ok::<_, Infallible>(value)).unwrap();
        assert_eq!(get(1, 10), 10);
        assert_eq!(get(1, 11), 10);
        // Another type under the same number is another thing.
        assert_eq!(*kept.get(1, || Ok::<_, Infallible>("text")).unwrap(), "text");
        for n in 2..5 {
            get(n, n as usize);
            assert_eq!(get(1, 12), 10);
        }
        assert_eq!(*kept.clone().get(1, || Ok::<_, Infallible>("new")).unwrap(), "new");
        assert_eq!(kept.get::<usize, _>(9, || Err("stopped")), Err("stopped"));
        assert_eq!(get(9, 90), 90);
    }
}
