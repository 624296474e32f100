//! The least and most of every number of [`ZoneSettings`](crate::ZoneSettings), in one list that the check of a zone,
//! the window and the page on the design file share; and the type in which `shell::limits` keeps those of a design.

/// What a number may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// Path inside the settings, `[]` standing for any number in a list.
    pub field: &'static str,
    /// Least value.
    pub least: f32,
    /// Greatest value.
    pub most: f32,
    /// Unit, in words; empty for a count.
    pub unit: &'static str,
}

impl Limit {
    /// The limit of a length in millimetres.
    #[must_use]
    pub const fn mm(field: &'static str, least: f32, most: f32) -> Self {
        Self { field, least, most, unit: "mm" }
    }

    /// Whether a value is allowed; NaN is not.
    #[must_use]
    pub fn allows(&self, value: f32) -> bool {
        (self.least..=self.most).contains(&value)
    }

    /// The nearest value that is allowed.
    #[must_use]
    pub fn clamp(&self, value: f32) -> f32 {
        value.clamp(self.least, self.most)
    }

    /// The limits as a range.
    #[must_use]
    pub fn range(&self) -> std::ops::RangeInclusive<f32> {
        self.least..=self.most
    }
}

/// A refused value in words, with at most one decimal, rounded away from the range so that it never looks allowed.
#[must_use]
pub fn refused(value: f32, least: f32, most: f32) -> String {
    // From its shortest decimal, so that 0.7 does not fall to 0.6 for its last binary place.
    let [value, least, most] = [value, least, most].map(|x| x.to_string().parse().unwrap_or(f64::NAN));
    plain_json::outside(value, least, most, 1)
}

macro_rules! limits {
    ($($(#[$doc:meta])* $name:ident = $limit:expr;)*) => {
        $($(#[$doc])* pub const $name: Limit = $limit;)*
        /// All of them, in the order of the fields.
        pub const ALL: &[Limit] = &[$($name),*];
    };
}

limits! {
    /// Growing of the whole zone; negative shrinks it.
    GROW = Limit::mm("grow_mm", -30.0, 60.0);
    /// Radius to which the edge is smoothed.
    SMOOTH = Limit::mm("smooth_mm", 0.0, 20.0);
    /// Distance between the fair edge and the drawn one.
    TOLERANCE = Limit::mm("tolerance_mm", 0.0, 5.0);
    /// How far a pull moves the edge out.
    PULL = Limit::mm("pulls[].by_mm", -60.0, 60.0);
    /// Radius of a brush dab.
    DAB_RADIUS = Limit::mm("sources[].strokes.dabs[].radius_mm", 0.5, 200.0);
    /// A coordinate of anything marked.
    COORDINATE = Limit::mm("sources[].strokes.dabs[].at_mm", -10_000.0, 10_000.0);
    /// Extra gap of a relief.
    RELIEF_DEPTH = Limit::mm("regions[].kind.relief.depth_mm", 0.2, 20.0);
    /// Extra wall of a reinforcement.
    REINFORCEMENT = Limit::mm("regions[].kind.reinforcement.extra_mm", 0.2, 10.0);
    /// Width over which a relief or reinforcement fades out.
    FALLOFF = Limit::mm("regions[].kind.relief.falloff_mm", 0.0, 60.0);
    /// Margin round a region that is kept clear.
    MARGIN = Limit::mm("regions[].kind.keep-clear.margin_mm", 0.0, 30.0);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refused_value_never_looks_allowed() {
        assert_eq!(refused(0.19, 0.2, 20.0), "0.1");
        assert_eq!(refused(20.000_01, 0.2, 20.0), "20.1");
        assert_eq!(refused(14.311_892, 0.2, 10.0), "14.4");
        assert_eq!(refused(-30.5, -30.0, 60.0), "-30.5");
        assert_eq!(refused(f32::NAN, 0.0, 1.0), "NaN");
        assert_eq!(refused(1.729_625_7e15, -10_000.0, 10_000.0), "1.7e15");
        assert_eq!(refused(12.0, 0.8, 10.0), "12");
        assert_eq!((refused(0.7, 0.8, 10.0), refused(1.1, 0.0, 1.0)), ("0.7".into(), "1.1".into()));
    }

    #[test]
    fn the_comments_on_the_fields_give_the_same_ranges() {
        let source = include_str!("settings.rs");
        for limit in ALL.iter().filter(|l| **l != COORDINATE) {
            let name = limit.field.rsplit('.').next().unwrap();
            // The kind of region first, as two kinds have a field of the same name.
            let kind = limit.field.split("kind.").nth(1).and_then(|k| k.split('.').next());
            let holder = match kind {
                Some("relief") => "    Relief {",
                Some("reinforcement") => "    Reinforcement {",
                Some(_) => "    KeepClear {",
                None => "",
            };
            let inside = &source[source.find(holder).unwrap()..];
            let field = inside.find(&format!(" {name}: ")).unwrap();
            let range = format!("{} to {}", limit.least, limit.most).replace('-', "−");
            let comment = &inside[..field];
            let start = comment.trim_end().rfind("\n\n").max(comment.rfind("},")).unwrap_or(0);
            assert!(comment[start..].contains(&range), "{}: no {range} before the field", limit.field);
        }
    }
}
