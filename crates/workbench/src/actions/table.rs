//! The table of all that can be done by one press: step, name, key.

use bevy::prelude::KeyCode as Code;

use super::key::{Key, ctrl, ctrl_shift, key, shift};
use crate::state::Step;

macro_rules! actions {
    ($($step:expr => { $($action:ident: $name:literal, $key:expr;)* })*) => {
        /// One thing that can be done.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Action {
            $($(#[doc = $name] $action,)*)*
        }

        impl Action {
            /// All of them, in the order of the list.
            pub const ALL: &[Self] = &[$($(Self::$action,)*)*];

            /// What it is called.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $($(Self::$action => $name,)*)* }
            }

            /// Its key.
            #[must_use]
            pub fn key(self) -> Key {
                match self { $($(Self::$action => $key,)*)* }
            }

            /// The step that it belongs to; none for what can be done in every step.
            #[must_use]
            pub fn step(self) -> Option<Step> {
                match self { $($(Self::$action => $step,)*)* }
            }
        }
    };
}

impl Action {
    /// A second key for the same action, as in many programs.
    #[must_use]
    pub fn also(self) -> Option<Key> {
        (self == Self::Redo).then(|| ctrl(Code::KeyY))
    }

    /// Its keys as they are written on this computer.
    #[must_use]
    pub fn keys(self) -> String {
        let also = self.also().map_or_else(String::new, |key| format!(", {}", key.label()));
        self.key().label() + &also
    }

    /// What a key does.
    #[must_use]
    pub fn of(key: Key) -> Option<Self> {
        Self::ALL.iter().copied().find(|action| action.key() == key || action.also() == Some(key))
    }
}

actions! {
    None => {
        Open: "Open a scan or design…", ctrl(Code::KeyO);
        OpenLatest: "Open the latest design", ctrl(Code::KeyL);
        Save: "Save", ctrl(Code::KeyS);
        SaveAs: "Save as…", ctrl_shift(Code::KeyS);
        Undo: "Undo", ctrl(Code::KeyZ);
        Redo: "Redo", ctrl_shift(Code::KeyZ);
        NextStep: "Next step", key(Code::PageDown);
        PreviousStep: "Previous step", key(Code::PageUp);
        ToScan: "Step: scan", key(Code::Digit1);
        ToZone: "Step: zone", key(Code::Digit2);
        ToShell: "Step: shell", key(Code::Digit3);
        ToFit: "Step: fit", key(Code::Digit4);
        ToMaterial: "Step: material", key(Code::Digit5);
        ToPrint: "Step: print", key(Code::Digit6);
        ToShow: "Step: show", key(Code::Digit7);
        Middle: "Mark at the centre of the view", key(Code::Space);
        Confirm: "Close the outline, or place the part here", key(Code::Enter);
        Delete: "Delete the selection", key(Code::Delete);
        Stop: "Stop what is running", key(Code::Escape);
        List: "This list", key(Code::F1);
        Settings: "Settings", ctrl(Code::Comma);
        Contrast: "Strong contrast, on or off", key(Code::F9);
        LargerText: "Larger text", ctrl(Code::Equal);
        SmallerText: "Smaller text", ctrl(Code::Minus);
        SeeAll: "Show everything", key(Code::Digit0);
        Demo: "Try it on an invented limb", key(Code::F2);
        Restore: "Restore unsaved work", ctrl(Code::KeyR);
        ThrowAway: "Throw unsaved work away", ctrl_shift(Code::KeyR);
        Close: "Close the window", ctrl(Code::KeyQ);
    }
    Some(Step::Scan) => {
        NextSite: "Next body site", key(Code::KeyY);
        NextSide: "Side: left, right, not given", key(Code::KeyL);
        NextUnit: "Next unit of the scan file", key(Code::KeyU);
        CutUpper: "Cut 5 mm more off the upper end", key(Code::Home);
        KeepUpper: "Cut 5 mm less off the upper end", shift(Code::Home);
        CutLower: "Cut 5 mm more off the lower end", key(Code::End);
        KeepLower: "Cut 5 mm less off the lower end", shift(Code::End);
        Mend: "Repair faulty spots, on or off", ctrl(Code::Digit1);
        Table: "Remove the table, on or off", ctrl(Code::Digit2);
        Pieces: "Drop loose pieces, on or off", ctrl(Code::Digit3);
        Noise: "Remove scanner noise, on or off", ctrl(Code::Digit4);
        Holes: "Fill holes, on or off", ctrl(Code::Digit5);
        LongTriangles: "Even out coarse parts, on or off", ctrl(Code::Digit6);
        Upright: "Stand the limb upright, on or off", shift(Code::KeyU);
        Mirror: "Mirror: left becomes right", shift(Code::KeyM);
        Watch: "Watch a folder…", ctrl_shift(Code::KeyW);
        StopWatching: "Stop watching", ctrl_shift(Code::KeyX);
        OpenArrived: "Open the scan that arrived", ctrl(Code::Enter);
        PassArrived: "Ignore the new scan", ctrl(Code::Backspace);
    }
    Some(Step::Zone) => {
        Paint: "Paint", key(Code::KeyB);
        Erase: "Erase", key(Code::KeyE);
        Outline: "Click round an outline", key(Code::KeyO);
        Crease: "Mark the crease of a joint", shift(Code::KeyC);
        TurnLimb: "Turn the limb only", key(Code::KeyV);
        LargerBrush: "Larger brush", key(Code::BracketRight);
        SmallerBrush: "Smaller brush", key(Code::BracketLeft);
        TakePenLine: "Take the pen line", key(Code::KeyP);
        TakeRings: "Take the rings in it as reliefs", shift(Code::KeyP);
        RelieveBonyPoints: "Relieve the bony points", key(Code::KeyM);
        MarkZone: "Mark the zone", shift(Code::KeyB);
        MarkRelief: "Mark a relief", shift(Code::KeyR);
        MarkReinforcement: "Mark a reinforcement", shift(Code::KeyT);
        MarkKeepClear: "Mark a keep-clear area", shift(Code::KeyK);
        NextRegion: "Mark the next region", key(Code::KeyN);
        RemoveRegion: "Delete the region", shift(Code::Delete);
        Grow: "Grow the zone by 1 mm", key(Code::KeyG);
        Shrink: "Shrink it by 1 mm", shift(Code::KeyG);
        Smoother: "Smoother edge", key(Code::KeyS);
        LessSmooth: "Less smooth edge", shift(Code::KeyS);
    }
    Some(Step::Shell) => {
        Immobilise: "Start from: immobilise", key(Code::F5);
        Deflect: "Start from: deflect", key(Code::F6);
        Cushion: "Start from: cushion and move", key(Code::F7);
        UsualForSite: "Start from: usual for the site", key(Code::F8);
        Thicker: "Thicker wall", key(Code::KeyW);
        Thinner: "Thinner wall", shift(Code::KeyW);
        MoreGap: "More gap to the skin", key(Code::KeyD);
        LessGap: "Less gap to the skin", shift(Code::KeyD);
        Rounder: "Rounder rim", key(Code::KeyQ);
        LessRound: "Less round rim", shift(Code::KeyQ);
        MoreLift: "Lift the rim more", key(Code::KeyF);
        LessLift: "Lift the rim less", shift(Code::KeyF);
        Ribs: "Ribs on or off", key(Code::KeyJ);
        RibLayout: "Next layout of ribs", key(Code::KeyR);
        Vents: "Vents on or off", shift(Code::KeyX);
        VentKind: "Next kind of vents", key(Code::KeyX);
        Rearrange: "Another arrangement of irregular vents", shift(Code::KeyA);
        AddStrap: "Place a strap slot", key(Code::KeyK);
        AddLace: "Place lace holes", shift(Code::KeyL);
        AddTie: "Place tie slots", shift(Code::KeyI);
        AddStitch: "Place stitch holes", shift(Code::KeyZ);
        AddSeat: "Place a hook-and-loop seat", shift(Code::KeyO);
        SuggestStraps: "Suggest straps", key(Code::KeyI);
        AddNumber: "Place the squad number or word", shift(Code::KeyN);
        RaisePicture: "Raise a picture…", shift(Code::KeyY);
        NextItem: "Choose the next strap or number", key(Code::KeyC);
        TurnLeft: "Turn it to the left by 5°", key(Code::Comma);
        TurnRight: "Turn it to the right by 5°", key(Code::Period);
    }
    Some(Step::Fit) => {
        SeeThrough: "See through the limb", key(Code::KeyZ);
        Heat: "Gap in colours, on or off", shift(Code::KeyH);
        Inside: "Look at the inside", shift(Code::KeyV);
        CutOpen: "Cut open, on or off", key(Code::KeyA);
        CutHigher: "Cut 5 mm higher", shift(Code::PageUp);
        CutDeeper: "Cut 5 mm lower", shift(Code::PageDown);
    }
    Some(Step::Material) => {
        NextMaterial: "Next kind of filament", ctrl(Code::KeyM);
        PreviousMaterial: "Previous filament", ctrl_shift(Code::KeyM);
        WeighThicker: "Try a thicker wall", ctrl(Code::BracketRight);
        WeighThinner: "Try a thinner wall", ctrl(Code::BracketLeft);
        TakeWall: "Use the tried wall", ctrl(Code::KeyT);
        LeaveWall: "Back to the current wall", ctrl_shift(Code::KeyT);
        NextBlow: "Strike it with the next blow", ctrl(Code::KeyJ);
        StrikeMiddle: "Strike it in its middle", ctrl_shift(Code::KeyJ);
        NextFoam: "Next foam of the liner", ctrl(Code::KeyU);
        NextMap: "Stress, dent or skin pressure in colours", ctrl(Code::KeyH);
        SeekLightest: "Find the lightest that holds", ctrl(Code::KeyN);
        TakeLightest: "Use the lightest", ctrl_shift(Code::KeyN);
        OwnFilament: "Enter your own filament", ctrl_shift(Code::KeyF);
        KeepFilament: "Add the filament as written", ctrl_shift(Code::Enter);
        DropFilament: "Discard the filament", ctrl_shift(Code::Backspace);
    }
    Some(Step::Print) => {
        Export: "Save print files…", ctrl(Code::KeyE);
        AskBed: "Enter the printer's size", ctrl(Code::KeyD);
        KeepBed: "Remember the size of the printer", ctrl_shift(Code::KeyD);
        OpenFolder: "Open the folder of the print files", ctrl_shift(Code::KeyE);
    }
    Some(Step::Show) => {
        CleanStage: "Hide the panels", key(Code::KeyH);
        TurnSlowly: "Turn the guard slowly", key(Code::KeyT);
        GuardAlone: "Guard alone, or on the limb", ctrl(Code::KeyG);
        NextLook: "Next whole look", shift(Code::KeyJ);
        NextColour: "Next colour", ctrl(Code::KeyK);
        NextFinish: "Next finish", ctrl(Code::KeyF);
        NextArtwork: "Next pattern", ctrl(Code::KeyB);
        ChoosePicture: "Lay a picture on it…", ctrl_shift(Code::KeyI);
        ThisSide: "This side is the front", ctrl_shift(Code::KeyB);
        SavePicture: "Save a picture of the guard…", ctrl(Code::KeyP);
        SaveTurn: "Save a short turn of the guard…", ctrl_shift(Code::KeyP);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_action_has_a_key_and_a_name_of_its_own() {
        for (i, one) in Action::ALL.iter().enumerate() {
            for other in &Action::ALL[i + 1..] {
                assert_ne!(one.key(), other.key(), "{one:?} and {other:?}");
                assert_ne!(one.key().label(), other.key().label(), "{one:?} and {other:?}");
                assert!(one.also() != Some(other.key()) && other.also() != Some(one.key()), "{one:?} and {other:?}");
                assert_ne!(one.name(), other.name(), "{one:?} and {other:?}");
            }
        }
    }

    #[test]
    fn every_key_finds_its_action() {
        for action in Action::ALL {
            assert_eq!(Action::of(action.key()), Some(*action));
        }
        assert_eq!(Action::of(ctrl(Code::KeyY)), Some(Action::Redo));
        assert_eq!(Action::of(key(Code::F12)), None);
    }

    #[test]
    fn every_step_has_its_keys() {
        for step in Step::ALL {
            assert!(Action::ALL.iter().any(|action| action.step() == Some(step)), "{}", step.name());
        }
    }
}
