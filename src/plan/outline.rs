//! Where the load is in its own axes.

use super::load::Load;

impl Load {
    /// Lower and upper corner of the box of the load's size, m forward, left, up.
    ///
    /// The origin is the planner's choice, so the box is laid so that it holds the provisions of the
    /// load: centred on them in plan, and up to the highest of them. A load without provisions of its
    /// own is centred on its centre of gravity.
    pub fn box_m(&self) -> [[f64; 3]; 2] {
        let size = [&self.size.length, &self.size.width, &self.size.height].map(|l| l.value.value);
        let mut low = [f64::INFINITY; 3];
        let mut high = [f64::NEG_INFINITY; 3];
        for provision in &self.provisions {
            for (axis, at) in provision.at.metres().into_iter().enumerate() {
                low[axis] = low[axis].min(at);
                high[axis] = high[axis].max(at);
            }
        }
        if self.provisions.is_empty() {
            let cg = self.centre_of_gravity.metres();
            let end = |sign: f64| [0, 1, 2].map(|axis| cg[axis] + sign * size[axis] / 2.0);
            return [end(-1.0), end(1.0)];
        }
        let mut corners = [[0.0; 3]; 2];
        for axis in 0..2 {
            let middle = (low[axis] + high[axis]) / 2.0;
            corners[0][axis] = middle - size[axis] / 2.0;
            corners[1][axis] = middle + size[axis] / 2.0;
        }
        // Most origins are on the ground or at the provisions' height.
        let bottom = if low[2] >= 0.0 && low[2] <= size[2] * 1.001 && high[2] > 0.0 {
            0.0
        } else {
            high[2] - size[2]
        };
        corners[0][2] = bottom;
        corners[1][2] = bottom + size[2];
        corners
    }

    /// The outline of that box from above, m forward and left: its rear right and its front left
    /// corner.
    pub fn outline_m(&self) -> [[f64; 2]; 2] {
        self.box_m().map(|[forward, left, _]| [forward, left])
    }
}
