//! Random draws that are the same on every machine and any number of cores.

use std::sync::LazyLock;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::shape::{Distribution, ROOT_3, ROOT_6};

/// The random numbers of one block of trials: a stream of its own under the seed of the whole.
pub(super) struct Stream(ChaCha8Rng);

impl Stream {
    pub fn new(seed: u64, block: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(block);
        Self(generator)
    }

    /// A number between 0 and 1, both excluded.
    fn uniform(&mut self) -> f64 {
        ((self.0.next_u64() >> 11) as f64 + 0.5) * (1.0 / (1_u64 << 53) as f64)
    }

    /// Fills a column with draws about zero, in multiples of the standard uncertainty.
    pub fn fill(&mut self, distribution: Distribution, column: &mut [f64]) {
        match distribution {
            Distribution::Normal => {
                let layers = &*LAYERS;
                column.iter_mut().for_each(|cell| *cell = self.normal(layers));
            }
            // So many that no draw would tell.
            Distribution::StudentT { freedom } if freedom > 1e12 => self.fill(Distribution::Normal, column),
            Distribution::StudentT { freedom } if freedom.is_nan() || freedom <= 0.0 => column.fill(f64::NAN),
            Distribution::StudentT { freedom } => {
                let layers = &*LAYERS;
                column.iter_mut().for_each(|cell| {
                    let z = self.normal(layers);
                    *cell = z / libm::sqrt(2.0 * self.gamma(freedom / 2.0, layers) / freedom);
                });
            }
            Distribution::Rectangular => {
                column.iter_mut().for_each(|cell| *cell = ROOT_3 * (2.0 * self.uniform() - 1.0));
            }
            Distribution::Triangular => {
                column.iter_mut().for_each(|cell| *cell = ROOT_6 * (self.uniform() + self.uniform() - 1.0));
            }
            Distribution::UShaped => {
                let half_turn = |share: f64| libm::cos(std::f64::consts::PI * share);
                column.iter_mut().for_each(|cell| *cell = std::f64::consts::SQRT_2 * half_turn(self.uniform()));
            }
        }
    }

    /// A draw from the standard normal distribution, by the layers of Marsaglia and Tsang (Journal of Statistical Software 5(8), 2000)
    /// with the sign, the place and the layer taken from different bits of one number (Doornik, 2005).
    #[inline]
    fn normal(&mut self, layers: &Layers) -> f64 {
        loop {
            let bits = self.0.next_u64();
            let layer = (bits & 0xff) as usize;
            let place = (bits >> 11) as f64 * (2.0 / (1_u64 << 53) as f64) - 1.0;
            let x = place * layers.x[layer];
            if x.abs() < layers.x[layer + 1] {
                return x;
            }
            if let Some(x) = self.edge(layer, place, x, layers) {
                return x;
            }
        }
    }

    /// What does not lie wholly inside its layer: about one draw in a hundred.
    #[cold]
    fn edge(&mut self, layer: usize, place: f64, x: f64, layers: &Layers) -> Option<f64> {
        if layer == 0 {
            // The tail beyond the last layer (Marsaglia, 1964).
            loop {
                let along = libm::log(self.uniform()) / LAST;
                if -2.0 * libm::log(self.uniform()) >= along * along {
                    return Some(if place < 0.0 { along - LAST } else { LAST - along });
                }
            }
        }
        let (low, high) = (layers.height[layer], layers.height[layer + 1]);
        (low + (high - low) * self.uniform() < libm::exp(-x * x / 2.0)).then_some(x)
    }

    /// A draw from the gamma distribution with this shape and a scale of one (Marsaglia and Tsang, ACM Transactions on Mathematical
    /// Software 26(3), 2000).
    fn gamma(&mut self, shape: f64, layers: &Layers) -> f64 {
        if shape < 1.0 {
            let power = libm::pow(self.uniform(), 1.0 / shape);
            return self.gamma(shape + 1.0, layers) * power;
        }
        let d = shape - 1.0 / 3.0;
        let c = 1.0 / libm::sqrt(9.0 * d);
        loop {
            let z = self.normal(layers);
            let root = 1.0 + c * z;
            if root <= 0.0 {
                continue;
            }
            let v = root * root * root;
            if libm::log(self.uniform()) < z * z / 2.0 + d - d * v + d * libm::log(v) {
                return d * v;
            }
        }
    }
}

/// Where the last of 256 layers ends, and the area of each: Marsaglia and Tsang's values.
const LAST: f64 = 3.654_152_885_361_009;
const AREA: f64 = 0.004_928_673_233_99;

/// The normal curve in 256 layers of the same area: the right end of each, and the height at that end.
struct Layers {
    x: [f64; 257],
    height: [f64; 257],
}

static LAYERS: LazyLock<Layers> = LazyLock::new(|| {
    let curve = |x: f64| libm::exp(-x * x / 2.0);
    let mut x = [0.0; 257];
    x[0] = AREA / curve(LAST);
    x[1] = LAST;
    for layer in 2..256 {
        let below: f64 = x[layer - 1];
        x[layer] = libm::sqrt(-2.0 * libm::log(AREA / below + curve(below)));
    }
    Layers { x, height: x.map(curve) }
});
