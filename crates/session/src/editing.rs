//! Edits, undo and redo, and what they do to the axes on which the design's points are given.
//!
//! All points of a design are in limb axes. A change of `clean.upright` gives other axes, and the points follow once
//! the limb has been cleaned again:
//!
//! ```text
//!      ┌───────── change of clean.upright, or undo/redo to a state in `unaligned` ────────┐
//!      │                                                                                  ▼
//!   aligned                                                                           unaligned
//!      ▲                                                                                  │
//!      └───────── the limb is cleaned (realign), or undo/redo to any other state ─────────┘
//! ```
//!
//! * *aligned*: `kept_axes` holds the placement of the design; limb and points agree. A change of unit or a swap of
//!   left and right converts axes and points at once.
//! * *unaligned*: `kept_axes` is none; the points are still on the old axes. States that are left like this are listed
//!   in `unaligned`, because undo and redo may return to them.

use std::sync::Arc;

use locker::DesignFile;

use crate::Session;
use crate::document::{Document, on_axes};

impl Session {
    /// Changes the design as one undoable step.
    pub fn edit(&mut self, label: &str, change: impl FnOnce(&mut DesignFile)) {
        self.change(|document| document.history.edit(label, change));
    }

    /// As [`Session::edit`], but joined with the previous change if that has the same label, until [`Session::settle`].
    pub fn edit_live(&mut self, label: &str, change: impl FnOnce(&mut DesignFile)) {
        self.change(|document| document.history.edit_live(label, change));
    }

    fn change(&mut self, apply: impl FnOnce(&mut Document) -> bool) {
        let Some(document) = &mut self.document else { return };
        let before = Arc::clone(document.history.now());
        let aligned = document.kept_axes.is_some();
        if apply(document) {
            if !aligned {
                document.unaligned.push(Arc::clone(&before));
            }
            document.carry_over();
            if before.clean.upright != document.design().clean.upright {
                document.kept_axes = None;
            }
            self.derived.ask_again();
            self.derived.follow(document);
        }
    }

    /// Ends a live change, as when the mouse button is released.
    pub fn settle(&mut self) {
        if let Some(document) = &mut self.document {
            document.history.settle();
            self.derived.follow(document);
        }
    }

    /// Undoes the last change; returns its label.
    pub fn undo(&mut self) -> Option<String> {
        self.travel(|document| document.history.undo())
    }

    /// Redoes the change undone last; returns its label.
    pub fn redo(&mut self) -> Option<String> {
        self.travel(|document| document.history.redo())
    }

    fn travel(&mut self, go: impl FnOnce(&mut Document) -> Option<String>) -> Option<String> {
        let document = self.document.as_mut()?;
        let left = Arc::clone(document.history.now());
        let label = go(document)?;
        if document.kept_axes.is_none() {
            document.unaligned.push(left);
        }
        let now = document.history.now();
        let unaligned = document.unaligned.iter().position(|state| Arc::ptr_eq(state, now));
        document.kept_axes = match unaligned {
            Some(at) => {
                document.unaligned.swap_remove(at);
                None
            }
            None => Some(now.placement),
        };
        self.derived.ask_again();
        self.derived.follow(document);
        Some(label)
    }

    /// Moves the design's points to the axes of a newly aligned limb, once it is there.
    pub(crate) fn realign(&mut self) {
        let Some(document) = &mut self.document else { return };
        if document.kept_axes.is_some() {
            return;
        }
        let key = self.derived.limb_key(document.design(), None);
        let Some(limb) = self.derived.limb.current(|of| *of == key) else { return };
        let axes = limb.placement;
        document.history.amend(|design| on_axes(design, &axes));
        document.kept_axes = Some(axes);
        let key = self.derived.limb_key(document.design(), Some(axes));
        self.derived.limb.rename(key);
    }
}
