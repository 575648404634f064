//! A small convolutional net: layers of kernels that slide over cells.

/// Values on a grid, row by row, the channels of a cell together.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    pub rows: usize,
    pub columns: usize,
    pub channels: usize,
    pub values: Vec<f32>,
}

/// A layer's form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form {
    /// Rows and columns of the kernel.
    pub kernel: (usize, usize),
    /// Cells by which the kernel moves on.
    pub stride: usize,
    /// Channels in and out.
    pub channels: (usize, usize),
}

impl Form {
    /// Weights without the biases: for each kernel cell and channel in, one for each channel out.
    pub const fn weights(&self) -> usize {
        self.kernel.0 * self.kernel.1 * self.channels.0 * self.channels.1
    }

    /// Rows and columns that come out.
    pub fn size(&self, rows: usize, columns: usize) -> (usize, usize) {
        let fits = |cells: usize, kernel: usize| {
            (cells + self.stride).saturating_sub(kernel) / self.stride
        };
        (fits(rows, self.kernel.0), fits(columns, self.kernel.1))
    }
}

/// One layer: a kernel for each channel out, and a bias.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    pub form: Form,
    /// Kernel rows, columns, channels in, channels out; the last varies fastest.
    pub weights: Vec<f32>,
    pub bias: Vec<f32>,
}

impl Layer {
    /// What comes out, before any unit is rectified.
    pub fn apply(&self, input: &Grid) -> Grid {
        // Sums of a known number are kept in registers.
        match self.form.channels.1 {
            4 => self.apply_to::<4>(input),
            8 => self.apply_to::<8>(input),
            16 => self.apply_to::<16>(input),
            32 => self.apply_to::<32>(input),
            other => unreachable!("no layer has {other} channels"),
        }
    }

    fn apply_to<const OUT: usize>(&self, input: &Grid) -> Grid {
        let Form {
            kernel,
            stride,
            channels: (inputs, _),
        } = self.form;
        let (rows, columns) = self.form.size(input.rows, input.columns);
        let mut values = Vec::with_capacity(rows * columns * OUT);
        let bias: [f32; OUT] = std::array::from_fn(|channel| self.bias[channel]);
        let (weights, _) = self.weights.as_chunks::<OUT>();
        let span = kernel.1 * inputs;
        for row in 0..rows {
            for column in 0..columns {
                let mut sums = bias;
                for down in 0..kernel.0 {
                    let start = ((row * stride + down) * input.columns + column * stride) * inputs;
                    let seen = &input.values[start..start + span];
                    for (&seen, weights) in seen.iter().zip(&weights[down * span..]) {
                        for channel in 0..OUT {
                            sums[channel] += seen * weights[channel];
                        }
                    }
                }
                values.extend_from_slice(&sums);
            }
        }
        Grid {
            rows,
            columns,
            channels: OUT,
            values,
        }
    }
}

/// Layers one after another, rectified between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Net {
    pub layers: Vec<Layer>,
}

impl Net {
    /// Reads weights and biases, layer by layer, in the order in which [`Net::to_bytes`] writes them: little-endian
    /// 32-bit floats. Numbers that are missing are 0: such a net says nothing, but one of new layers can be trained.
    pub fn from_bytes(forms: &[Form], bytes: &[u8]) -> Self {
        let mut numbers = bytes
            .chunks_exact(4)
            .map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]))
            .chain(std::iter::repeat(0.0));
        let mut take = |count: usize| numbers.by_ref().take(count).collect();
        let layers = forms.iter().map(|&form| Layer {
            form,
            weights: take(form.weights()),
            bias: take(form.channels.1),
        });
        Self {
            layers: layers.collect(),
        }
    }

    pub fn to_bytes(&self) -> Vec<u8> {
        let numbers = self
            .layers
            .iter()
            .flat_map(|layer| layer.weights.iter().chain(&layer.bias));
        numbers.flat_map(|number| number.to_le_bytes()).collect()
    }

    /// What the last layer gives.
    pub fn apply(&self, input: Grid) -> Grid {
        let mut grid = input;
        for (at, layer) in self.layers.iter().enumerate() {
            if at > 0 {
                rectify(&mut grid);
            }
            grid = layer.apply(&grid);
        }
        grid
    }
}

/// Makes negative values nothing.
pub fn rectify(grid: &mut Grid) {
    for value in &mut grid.values {
        *value = value.max(0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kernel_slides_over_the_cells() {
        let form = Form {
            kernel: (2, 3),
            stride: 2,
            channels: (1, 4),
        };
        // The first channel out sums what the kernel covers, the second takes its upper left cell alone.
        let mut weights = vec![0.0; form.weights()];
        weights
            .iter_mut()
            .step_by(4)
            .for_each(|weight| *weight = 1.0);
        weights[1] = 1.0;
        let layer = Layer {
            form,
            weights,
            bias: vec![0.0, 10.0, 0.0, 0.0],
        };
        let out = layer.apply(&Grid {
            rows: 4,
            columns: 6,
            channels: 1,
            values: (0..24).map(|value| value as f32).collect(),
        });
        assert_eq!((out.rows, out.columns), (2, 2));
        let of_channel = |channel| -> Vec<f32> {
            out.values
                .iter()
                .skip(channel)
                .step_by(4)
                .copied()
                .collect()
        };
        assert_eq!(of_channel(0), [24.0, 36.0, 96.0, 108.0]);
        assert_eq!(of_channel(1), [10.0, 12.0, 22.0, 24.0]);
    }

    #[test]
    fn weights_survive_being_written() {
        let form = Form {
            kernel: (1, 1),
            stride: 1,
            channels: (2, 4),
        };
        let net = Net {
            layers: vec![Layer {
                form,
                weights: (0..8).map(|value| value as f32 / 3.0).collect(),
                bias: vec![0.5; 4],
            }],
        };
        assert_eq!(Net::from_bytes(&[form], &net.to_bytes()), net);
    }
}
