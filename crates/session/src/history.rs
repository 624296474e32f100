//! A value with undo and redo.

use std::sync::Arc;

/// Most steps that can be undone.
const MOST: usize = 400;

/// A value, its states before each change, and the states that undo has left.
#[derive(Debug, Clone)]
pub struct History<T> {
    now: Arc<T>,
    before: Vec<(String, Arc<T>)>,
    after: Vec<(String, Arc<T>)>,
    /// The last step is still going on, as while a slider is held.
    open: bool,
}

impl<T: PartialEq + Clone> History<T> {
    /// Starts at `value` with nothing to undo.
    #[must_use]
    pub fn new(value: T) -> Self {
        Self { now: Arc::new(value), before: Vec::new(), after: Vec::new(), open: false }
    }

    /// The current value.
    #[must_use]
    pub fn now(&self) -> &Arc<T> {
        &self.now
    }

    /// Makes one step of `change`; whether it changed anything.
    pub fn edit(&mut self, label: &str, change: impl FnOnce(&mut T)) -> bool {
        self.settle();
        self.step(label, change)
    }

    /// As [`Self::edit`], but joined with the step before while that has the same label and is not settled.
    pub fn edit_live(&mut self, label: &str, change: impl FnOnce(&mut T)) -> bool {
        if self.open && self.before.last().is_some_and(|(last, _)| last == label) {
            return self.amend(change);
        }
        let changed = self.step(label, change);
        self.open = changed;
        changed
    }

    fn step(&mut self, label: &str, change: impl FnOnce(&mut T)) -> bool {
        let mut next = (*self.now).clone();
        change(&mut next);
        if next == *self.now {
            return false;
        }
        let before = std::mem::replace(&mut self.now, Arc::new(next));
        self.before.push((label.to_owned(), before));
        self.after.clear();
        if self.before.len() > MOST {
            self.before.remove(0);
        }
        true
    }

    /// Changes the value without a step of its own.
    pub fn amend(&mut self, change: impl FnOnce(&mut T)) -> bool {
        let before = Arc::clone(&self.now);
        change(Arc::make_mut(&mut self.now));
        *before != *self.now
    }

    /// Ends a live step.
    pub fn settle(&mut self) {
        self.open = false;
    }

    /// Whether a live step is going on.
    #[must_use]
    pub fn is_live(&self) -> bool {
        self.open
    }

    /// Undoes one step; returns its label.
    pub fn undo(&mut self) -> Option<String> {
        self.settle();
        let (label, value) = self.before.pop()?;
        let after = std::mem::replace(&mut self.now, value);
        self.after.push((label.clone(), after));
        Some(label)
    }

    /// Redoes one step; returns its label.
    pub fn redo(&mut self) -> Option<String> {
        self.settle();
        let (label, value) = self.after.pop()?;
        let before = std::mem::replace(&mut self.now, value);
        self.before.push((label.clone(), before));
        Some(label)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_go_back_and_forth_and_a_drag_is_one_step() {
        let mut history = History::new(0);
        assert!(history.edit("one", |n| *n = 1));
        assert!(!history.edit("nothing", |n| *n = 1));
        for value in 2..9 {
            history.edit_live("drag", |n| *n = value);
        }
        history.settle();
        history.edit_live("drag", |n| *n = 20);
        assert_eq!((history.undo().as_deref(), **history.now()), (Some("drag"), 8));
        assert_eq!((history.undo().as_deref(), **history.now()), (Some("drag"), 1));
        assert_eq!((history.redo().as_deref(), **history.now()), (Some("drag"), 8));
        history.edit("other", |n| *n = 5);
        assert_eq!(history.redo(), None, "a new step ends the way forward");
        history.undo();
        history.undo();
        history.undo();
        assert_eq!((history.undo(), **history.now()), (None, 0));
    }
}
