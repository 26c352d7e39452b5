//! Whether a proposed code is believed: its bars must fit the picture, and no other digits may fit nearly as well.

use super::add_on;
use super::fit::{Fit, MARGIN, PlacedDigit, fit, residual_limit};
use super::model::PER_MODULE;
use super::place::{Line, Place, follow};
use super::proposal::Proposal;
use super::surface::Surfaces;
use super::{Symbol, crop};
use crate::code::{AddOnState, Certainty, Code, Gtin, NumberSet, Symbology, ean_8_modules, main_modules, main_sets};
use crate::code::{upc_e_compress, upc_e_modules, upc_e_sets};

/// Looks at the picture where `proposal` was read and gives the symbol, if its bars are there.
pub(super) fn confirm(surfaces: &mut Surfaces<'_>, proposal: &Proposal, by: &'static str) -> Option<(Symbol, Place)> {
    /// Rows tried as starting line: one may have been read across a scratch.
    const SEEDS: usize = 3;
    let modules = modules(proposal.gtin, proposal.symbology)?;
    let rows = &proposal.rows;
    (0..SEEDS.min(rows.len())).find_map(|i| {
        let [left, right] = rows[(2 * i + 1) * rows.len() / (2 * SEEDS.min(rows.len()))];
        let seed = Line { left, right };
        let surface = surfaces.for_modules_of(seed.module_px(modules.len() as f32));
        let place = follow(surface, &modules, seed)?;
        let samples = ((modules.len() as f32 + 2.0 * MARGIN) * PER_MODULE as f32) as usize;
        let fit = fit(&place.mean_profile(surface, -MARGIN, samples), &modules, Some(place.warp))?;
        let certainty = judge(&fit, &place, proposal)?;
        let add_on = match proposal.symbology {
            // GS1 General Specifications: add-ons go with UPC-A, UPC-E and EAN-13 only.
            Symbology::Ean8 => AddOnState::Absent,
            Symbology::UpcA | Symbology::UpcE | Symbology::Ean13 => add_on::look(surface, &place, &fit),
        };
        let symbol = Symbol {
            code: Code { gtin: proposal.gtin, add_on },
            symbology: proposal.symbology,
            corners: place.corners,
            by,
            module_px: place.module_px(),
            certainty,
            crop: crop::cut(surface, &place, add_on != AddOnState::Absent),
        };
        Some((symbol, place))
    })
}

fn judge(fit: &Fit, place: &Place, proposal: &Proposal) -> Option<Certainty> {
    let ratio = fit.rivals(&digits(proposal.gtin, proposal.symbology)?, |placed| match placed.set {
        NumberSet::C => vec![NumberSet::C],
        NumberSet::A | NumberSet::B => vec![NumberSet::A, NumberSet::B],
    });
    let limit = residual_limit(fit.sigma);
    // Ends far from where the bars were followed, bars squeezed as no cover seen from a readable angle squeezes them, or
    // bars hardly higher than a line of print: some other pattern.
    let ends_moved = fit.warp.ends().into_iter().any(|end| end.abs() > 2.0);
    if ends_moved || fit.warp.narrowest_module() < 0.4 || place.height_modules() < 6.0 {
        return None;
    }
    match proposal.symbology {
        Symbology::UpcA | Symbology::Ean13 => {
            if fit.residual < limit && ratio >= 1.3 {
                Some(Certainty::Sure)
            } else if fit.residual < 1.5 * limit && ratio >= 1.15 {
                Some(Certainty::Confirm)
            } else {
                None
            }
        }
        // Half the bars, and a check that a tenth of all patterns passes: a stricter fit on more rows.
        Symbology::UpcE | Symbology::Ean8 => {
            (fit.residual < 0.5 * limit && ratio >= 1.5 && proposal.rows.len() >= 4).then_some(Certainty::Confirm)
        }
    }
}

fn modules(gtin: Gtin, symbology: Symbology) -> Option<Vec<bool>> {
    match symbology {
        Symbology::UpcA | Symbology::Ean13 => Some(main_modules(gtin).to_vec()),
        Symbology::Ean8 => Some(ean_8_modules(gtin)?.to_vec()),
        Symbology::UpcE => Some(upc_e_modules(gtin)?.to_vec()),
    }
}

/// The digits that a symbol's bars carry, each with its number set and first module.
fn digits(gtin: Gtin, symbology: Symbology) -> Option<Vec<PlacedDigit>> {
    let place = |digits: &[u8], sets: &[NumberSet], half: usize| {
        digits
            .iter()
            .zip(sets)
            .enumerate()
            .map(|(i, (&digit, &set))| PlacedDigit {
                digit,
                set,
                at: (3 + 7 * i + if i >= half { 5 } else { 0 }) as f32,
            })
            .collect()
    };
    match symbology {
        Symbology::UpcA | Symbology::Ean13 => {
            let [first, rest @ ..] = gtin.digits();
            Some(place(&rest, &[&main_sets(first)[..], &[NumberSet::C; 6]].concat(), 6))
        }
        Symbology::Ean8 => Some(place(&gtin.gtin8()?, &[[NumberSet::A; 4], [NumberSet::C; 4]].concat(), 4)),
        Symbology::UpcE => {
            let [system, body @ .., check] = upc_e_compress(gtin)?;
            Some(place(&body, &upc_e_sets(system, check)?, 6))
        }
    }
}
