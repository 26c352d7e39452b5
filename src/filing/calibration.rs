//! The estimate of thickness, fitted to what the collector measured.

use serde::{Deserialize, Serialize};

/// A number of books that was measured together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Measurement {
    /// How many books.
    pub books: u32,
    /// How long they were in micrometres.
    pub measured_um: u64,
    /// How long they should be by the estimate alone.
    pub estimated_um: u64,
}

/// What the estimate is multiplied by.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Calibration {
    /// In millionths.
    pub factor_ppm: u32,
    /// How many measurements it rests on.
    pub measurements: u32,
    /// The standard deviation of what they leave unexplained, as a share of their length in millionths; `None` below two
    /// measurements, because one fits always.
    pub spread_ppm: Option<u32>,
}

impl Default for Calibration {
    fn default() -> Self {
        Self { factor_ppm: 1_000_000, measurements: 0, spread_ppm: None }
    }
}

/// How far a measurement may be from the estimate, as a factor: beyond it, it is a slip of the pen.
const FARTHEST: f64 = 4.0;

/// Why books can't have been measured so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum MeasurementError {
    /// No book or no length.
    #[error("a measurement needs books and their length; such as --books 118 --mm 352")]
    Nothing,
    /// Too thick or too thin for any comic.
    #[error("{books} books of {mm} mm would be {each_mm}.{each_hundredths} mm each; measure again")]
    Unlikely {
        /// How many books.
        books: u32,
        /// How long.
        mm: u64,
        /// Each, whole millimetres.
        each_mm: u64,
        /// Each, what stands behind the point.
        each_hundredths: u64,
    },
}

impl Measurement {
    /// Checks a measurement.
    ///
    /// # Errors
    /// If nothing was measured, or nothing that can be.
    pub fn new(books: u32, measured_um: u64, estimated_um: u64) -> Result<Self, MeasurementError> {
        if books == 0 || measured_um == 0 || estimated_um == 0 {
            return Err(MeasurementError::Nothing);
        }
        let ratio = measured_um as f64 / estimated_um as f64;
        if !(1.0 / FARTHEST..=FARTHEST).contains(&ratio) {
            let each = measured_um / u64::from(books) / 10;
            return Err(MeasurementError::Unlikely {
                books,
                mm: measured_um / 1000,
                each_mm: each / 100,
                each_hundredths: each % 100,
            });
        }
        Ok(Self { books, measured_um, estimated_um })
    }
}

impl Calibration {
    /// Fitted to all measurements by least squares: the factor that leaves the least sum of squared differences.
    #[must_use]
    pub fn fit(measurements: &[Measurement]) -> Self {
        if measurements.is_empty() {
            return Self::default();
        }
        let sum = |of: &dyn Fn(&Measurement) -> f64| measurements.iter().map(of).sum::<f64>();
        let (estimated, measured) = (|m: &Measurement| m.estimated_um as f64, |m: &Measurement| m.measured_um as f64);
        let factor = sum(&|m| estimated(m) * measured(m)) / sum(&|m| estimated(m) * estimated(m));
        let rest = sum(&|m| (measured(m) - factor * estimated(m)).powi(2));
        let n = measurements.len() as f64;
        let spread = (rest / (n - 1.0)).sqrt() / (sum(&measured) / n);
        Self {
            factor_ppm: (factor * 1e6).round() as u32,
            measurements: measurements.len() as u32,
            spread_ppm: (measurements.len() > 1).then(|| (spread * 1e6).round() as u32),
        }
    }

    /// A thickness, corrected.
    #[must_use]
    pub fn apply(&self, um: u32) -> u32 {
        (u64::from(um) * u64::from(self.factor_ppm)).div_ceil(1_000_000) as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measurement(books: u32, measured_um: u64, estimated_um: u64) -> Measurement {
        Measurement::new(books, measured_um, estimated_um).unwrap()
    }

    #[test]
    fn one_measurement_is_met_and_has_no_spread() {
        let calibration = Calibration::fit(&[measurement(118, 352_000, 320_000)]);
        assert_eq!((calibration.factor_ppm, calibration.spread_ppm), (1_100_000, None));
        assert_eq!(calibration.apply(3000), 3300);
        assert_eq!(Calibration::fit(&[]).apply(3072), 3072);
    }

    #[test]
    fn several_are_fitted_by_least_squares() {
        // By hand: (100·110 + 200·180 + 300·330) / (100² + 200² + 300²) = 146000 / 140000; what is left: 5.714, -28.571,
        // 17.143 mm, whose squares sum to 1142.857; over two, the root is 23.9046 mm, of 206.667 mm in the mean.
        let of = |measured: u64, estimated: u64| measurement(50, measured * 1000, estimated * 1000);
        let calibration = Calibration::fit(&[of(110, 100), of(180, 200), of(330, 300)]);
        assert_eq!(calibration.factor_ppm, 1_042_857);
        assert_eq!(calibration.measurements, 3);
        assert_eq!(calibration.spread_ppm, Some(115_667));
    }

    #[test]
    fn slips_are_refused() {
        assert_eq!(Measurement::new(0, 1, 1), Err(MeasurementError::Nothing));
        let error = Measurement::new(118, 35_200_000, 362_000).unwrap_err();
        assert_eq!(error.to_string(), "118 books of 35200 mm would be 298.30 mm each; measure again");
        assert!(Measurement::new(118, 35_200, 362_000).is_err());
    }
}
