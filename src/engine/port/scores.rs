//! A port table against readings: the chi-square of a fault, and the value that fits best.
//!
//! # Formula
//!
//! With ρ = W (y − y⁰) what the healthy board leaves of the readings and σ = W s a port's shape, both
//! in standard uncertainties (WᵀW = Σ⁻¹), a fault at the coordinate t of its line leaves
//!
//! ```text
//! χ²(t) = |ρ + σ t|²,    least at t* = −ρ·σ / σ·σ
//! ```
//!
//! so the value that fits best is a projection, and the line t = v / (z + r) leads back to ohms.
//! What a resistor can be lies between its short and its open: past either, that end fits best.

use nalgebra::{Cholesky, DVector, Dyn};

use super::{Line, PortTable, Refusal, Shunt};

/// Readings are handled so many at a time, so that the processor takes several at once.
const LANES: usize = 2;

/// The readings of one setup laid over a port table; see [`PortTable`] for an example.
#[derive(Debug, Clone)]
pub struct Scores<'t> {
    pub(super) table: &'t PortTable,
    /// Readings that a row holds, padded with nothing.
    stride: usize,
    /// What the healthy board leaves, in standard uncertainties.
    left: Vec<f64>,
    /// Shapes in standard uncertainties: one row per port.
    shapes: Vec<f64>,
    /// ρ·ρ.
    pub(super) start: f64,
    /// ρ·σ per port.
    pub(super) along: Vec<f64>,
    /// σ·σ between any two ports.
    pub(super) gram: Vec<f64>,
}

/// The value of one port that fits best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    /// The resistance at the port, own branch included, in ohms: zero at the short end, infinite at
    /// the open end.
    pub ohms: f64,
    /// The chi-square that it leaves.
    pub chi_square: f64,
    /// Whether it lies between the ends.
    pub interior: bool,
}

impl<'t> Scores<'t> {
    /// Readings in the order of the table's places, each with its standard uncertainty, in volts.
    pub fn new(table: &'t PortTable, readings: &[f64], standard: &[f64]) -> Scores<'t> {
        Scores::whitened(table, readings, |vector| {
            for (value, standard) in vector.iter_mut().zip(standard) {
                *value /= standard;
            }
        })
    }

    /// The same with a covariance by its Cholesky factors.
    pub fn with_covariance(
        table: &'t PortTable,
        readings: &[f64],
        cholesky: &Cholesky<f64, Dyn>,
    ) -> Scores<'t> {
        Scores::whitened(table, readings, |vector| {
            let right = DVector::from_column_slice(vector);
            // Solving by a factor of a positive definite matrix has no zero on its diagonal.
            if let Some(solved) = cholesky.l_dirty().solve_lower_triangular(&right) {
                vector.copy_from_slice(solved.as_slice());
            }
        })
    }

    fn whitened(table: &'t PortTable, readings: &[f64], whiten: impl Fn(&mut [f64])) -> Scores<'t> {
        let (n, m) = (table.sites().len(), table.places().len());
        let stride = m.next_multiple_of(LANES);
        let mut left = vec![0.0; stride];
        for (left, (reading, healthy)) in left.iter_mut().zip(readings.iter().zip(table.healthy()))
        {
            *left = reading - healthy;
        }
        whiten(&mut left[..m]);
        let mut shapes = vec![0.0; n * stride];
        for (site, row) in shapes.chunks_mut(stride.max(1)).enumerate() {
            row[..m].copy_from_slice(table.shape(site));
            whiten(&mut row[..m]);
        }
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let row = |site: usize| &shapes[site * stride..(site + 1) * stride];
        let start = dot(&left, &left);
        let along = (0..n).map(|site| dot(&left, row(site))).collect();
        let mut gram = vec![0.0; n * n];
        for a in 0..n {
            for b in 0..=a {
                let product = dot(row(a), row(b));
                gram[a * n + b] = product;
                gram[b * n + a] = product;
            }
        }
        Scores { table, stride, left, shapes, start, along, gram }
    }

    /// The table.
    pub fn table(&self) -> &'t PortTable {
        self.table
    }

    /// What the healthy board leaves.
    pub fn healthy(&self) -> f64 {
        self.start
    }

    /// The chi-square of a branch beside a port.
    ///
    /// # Errors
    ///
    /// Why it has to come from a full solve.
    pub fn of(&self, site: usize, shunt: Shunt) -> Result<f64, Refusal> {
        Ok(self.at(site, self.table.line(site).amps(shunt)?))
    }

    /// The chi-square at a coordinate of a port's line, in amps.
    #[inline]
    pub fn at(&self, site: usize, amps: f64) -> f64 {
        let row = &self.shapes[site * self.stride..(site + 1) * self.stride];
        let mut sums = [0.0; LANES];
        for (left, shape) in self.left.chunks_exact(LANES).zip(row.chunks_exact(LANES)) {
            for lane in 0..LANES {
                let off = left[lane] + shape[lane] * amps;
                sums[lane] += off * off;
            }
        }
        sums.iter().sum()
    }

    /// The chi-squares of many faults, each a branch of so many ohms beside a port. Nothing is
    /// tested on the way: what [`Line::amps`] refuses comes out as some number or none.
    pub fn all(&self, faults: &[(usize, f64)], chi_squares: &mut [f64]) {
        for (&(site, ohms), chi_square) in faults.iter().zip(chi_squares) {
            let Line { ohms: own, volts, .. } = self.table.line(site);
            *chi_square = self.at(site, volts / (ohms + own));
        }
    }

    /// The resistance at a port that fits best; `None` where the readings do not answer to it. Of a
    /// real source it is the one inside.
    ///
    /// Where the port is the only path of a net, opening it is no end that can be reached.
    pub fn fitted(&self, site: usize) -> Option<Fitted> {
        let site_of = self.table.sites()[site];
        let mut line = self.table.line(site);
        line.volts += site_of.emf();
        let length = self.gram[site * self.table.sites().len() + site];
        // What nothing stands across moves nothing, whatever its value is.
        if length <= 0.0 || line.volts == 0.0 || line.held {
            return None;
        }
        // A short lies at v / r on the line, an open on the other side of nothing.
        let short = line.volts / line.ohms;
        let amps = -self.along[site] / length;
        let towards_short = amps * short.signum();
        let open = line.amps(Shunt::of(-1.0 / site_of.siemens));
        let towards_open = open.map_or(f64::INFINITY, |open| -open * short.signum());
        let (end, ohms) = if towards_short >= short.abs() {
            (short, 0.0)
        } else if -towards_short >= towards_open {
            (-towards_open * short.signum(), f64::INFINITY)
        } else {
            let ohms = line.shunt(amps)?.beside(1.0 / site_of.siemens);
            return Some(Fitted { ohms, chi_square: self.at(site, amps), interior: true });
        };
        Some(Fitted { ohms, chi_square: self.at(site, end), interior: false })
    }

    /// A bound for two ports at any values whatever: no two values leave less.
    pub fn least_of_both(&self, one: usize, other: usize) -> f64 {
        let n = self.table.sites().len();
        let [aa, ab, bb] =
            [(one, one), (one, other), (other, other)].map(|(a, b)| self.gram[a * n + b]);
        let [a, b] = [self.along[one], self.along[other]];
        let share = |top: f64, bottom: f64| if bottom > 0.0 { top / bottom } else { 0.0 };
        // First the longer shape is taken out, then what is left of the other one.
        let ((aa, a), (bb, b)) = if aa >= bb { ((aa, a), (bb, b)) } else { ((bb, b), (aa, a)) };
        let rest = bb - share(ab * ab, aa);
        let left = b - share(ab, aa) * a;
        // Parallel shapes leave rounding alone, which explains nothing.
        let second = if rest > 1e-12 * bb { left * left / rest } else { 0.0 };
        (self.start - share(a * a, aa) - second).max(0.0)
    }
}
