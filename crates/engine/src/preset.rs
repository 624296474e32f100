//! Starting points by what the guard is for.

use mechanics::Family;
use shell::{Design, RibLayout, Ribs, Vents};

/// What a guard is to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum GuardPurpose {
    /// Hold a part still while it heals.
    Immobilise,
    /// Spread a blow over skin that can take it.
    Deflect,
    /// Soften knocks on a part that goes on moving.
    CushionAndMove,
}

/// What a purpose starts from. Common practice of makers, without a published source: rigid and close to hold still;
/// rigid, thick and ribbed with few openings against blows; thin, soft and airy where the part moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Preset {
    /// The purpose.
    pub purpose: GuardPurpose,
    /// Its name.
    pub name: &'static str,
    /// Skin to inner face, mm: less to hold still, more where foam is to go under.
    pub gap_mm: f32,
    /// Wall, mm.
    pub thickness_mm: f32,
    /// Ribs.
    pub ribs: Option<Ribs>,
    /// Size of vents and wall between them, mm; their kind and distance from the rim are kept.
    pub vents_mm: [f32; 2],
    /// Lift of the rim, mm.
    pub flare_mm: f32,
    /// Filament.
    pub material: Family,
}

/// One preset a purpose.
pub const PRESETS: [Preset; 3] = [
    Preset {
        purpose: GuardPurpose::Immobilise,
        name: "Immobilise",
        gap_mm: 2.0,
        thickness_mm: 3.2,
        ribs: Some(Ribs { layout: RibLayout::Along, height_mm: 1.8, width_mm: 5.0, spacing_mm: 30.0 }),
        vents_mm: [6.0, 3.0],
        flare_mm: 1.5,
        material: Family::Rigid,
    },
    Preset {
        purpose: GuardPurpose::Deflect,
        name: "Deflect",
        gap_mm: 4.0,
        thickness_mm: 4.0,
        ribs: Some(Ribs { layout: RibLayout::Crossed, height_mm: 2.0, width_mm: 5.0, spacing_mm: 36.0 }),
        vents_mm: [5.0, 4.0],
        flare_mm: 2.0,
        material: Family::Rigid,
    },
    Preset {
        purpose: GuardPurpose::CushionAndMove,
        name: "Cushion and move",
        gap_mm: 1.0,
        thickness_mm: 2.4,
        ribs: None,
        vents_mm: [8.0, 3.0],
        flare_mm: 1.0,
        material: Family::Flexible,
    },
];

impl Preset {
    /// Sets its values in a design; fittings, marks, and the kind of vents and their distance from the rim are kept.
    pub fn put_into(&self, design: &mut Design) {
        design.gap_mm = self.gap_mm;
        design.thickness_mm = self.thickness_mm;
        design.ribs = self.ribs;
        design.rim.flare_mm = self.flare_mm;
        design.rim.round_mm = design.rim.round_mm.min(0.5 * self.thickness_mm);
        let [size_mm, ligament_mm] = self.vents_mm;
        design.vents = design.vents.map(|vents| Vents { size_mm, ligament_mm, ..vents });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use mechanics::Materials;
    use scan::BodySite;

    #[test]
    fn every_preset_is_allowed_on_every_body_site() {
        for site in BodySite::ALL {
            for preset in PRESETS {
                let mut design = crate::shell_for(site);
                design.rim.round_mm = 0.5 * design.thickness_mm;
                preset.put_into(&mut design);
                assert_eq!(design.check(), Ok(()), "{site:?} {preset:?}");
            }
        }
    }

    /// As the names promise: Deflect is stiffer than Immobilise, and that far stiffer than Cushion and move.
    #[test]
    fn the_presets_rank_as_their_names_say() {
        let stiff = |preset: &Preset| {
            let mut design = Design::default();
            preset.put_into(&mut design);
            let material = Materials::built_in().materials.into_iter().find(|m| m.family == preset.material).unwrap();
            // A plate's rigidity grows with its modulus and with its wall cubed.
            material.modulus_mpa.value * f64::from(design.thickness_mm).powi(3)
        };
        let [hold, deflect, cushion] = [0, 1, 2].map(|i| stiff(&PRESETS[i]));
        assert!(deflect > hold && hold > 10.0 * cushion, "{hold} {deflect} {cushion}");
    }
}
