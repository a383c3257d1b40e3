//! Where the load is in its own axes.

use super::load::{Load, LoadKind};

impl Load {
    /// Lower and upper corner of the box of the load's size, m forward, left, up.
    ///
    /// The origin is the planner's choice, so the box is laid so that it holds the provisions of the
    /// load: centred on them in plan, and up to the highest of them. A net hangs below its ring, which may be far above
    /// it: where provisions are not in its height, and so wherever that box would not hold the centre of gravity, the box
    /// is laid round that, in height. A load without provisions of its own is centred on its centre of gravity.
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
        let cg = self.centre_of_gravity.metres()[2];
        let hair = 0.001 * size[2];
        let holds_cg = |bottom: f64| cg >= bottom - hair && cg <= bottom + size[2] + hair;
        // Most origins are on the ground or at the provisions' height.
        let on_ground = low[2] >= 0.0 && low[2] <= size[2] + hair && high[2] > 0.0;
        let hung = high[2] - size[2];
        let bottom = if on_ground && holds_cg(0.0) {
            0.0
        } else if self.kind != LoadKind::Net && holds_cg(hung) {
            hung
        } else {
            cg - size[2] / 2.0
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
