//! What never lies beside a seed, whatever a table says.

use crate::agronomy::crop_tolerance::Crop;
use crate::job::FertiliserForm;

/// Soil pH above which ammonium sulphate and diammonium phosphate give off free ammonia beside the seed, so that no table
/// holds. A University of Manitoba study of ammonium sulphate with canola, as told by The Western Producer (25 January 2024):
/// far worse on soils above pH 7.5; for diammonium phosphate Illinois Fertilizer Conference (1990): a tenth of its ammonium
/// is ammonia at pH 8.28, a hundredth at 7.28.
pub const PH_MOST: f64 = 7.5;

/// A fertiliser that must not lie with the seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Never {
    /// Why, in words.
    pub why: &'static str,
    pub source: &'static str,
}

/// Why a fertiliser must not lie with the seed of a crop at all; none where tables decide.
pub fn never(
    form: Option<FertiliserForm>,
    boron_percent: f64,
    crop: Option<Crop>,
) -> Option<Never> {
    if boron_percent > 0.0 {
        return Some(Never {
            why: "boron must not touch the seed, in a blend neither",
            source: "University of Minnesota Extension, Boron for Minnesota soils",
        });
    }
    let tender = matches!(
        crop,
        Some(
            Crop::Rape
                | Crop::Mustard
                | Crop::Camelina
                | Crop::OilseedRadish
                | Crop::StubbleTurnips
                | Crop::Flax
        )
    );
    if form == Some(FertiliserForm::AmmoniumSulphate) && tender {
        return Some(Never {
            why: "no ammonium sulphate beside the seed of rape, canola, mustard, other brassicas or flax",
            source: "Canola Council of Canada, Canola Watch of 1 May 2013 and 1 March 2019 (canola); the others with it: common practice, no source",
        });
    }
    None
}

/// Whether a form is safe up to a soil pH only.
pub fn needs_ph(form: FertiliserForm) -> bool {
    matches!(
        form,
        FertiliserForm::AmmoniumSulphate | FertiliserForm::DiammoniumPhosphate
    )
}
