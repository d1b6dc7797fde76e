//! Numbers with one derivative: the right-hand sides are written once, for plain numbers and for these.

use std::ops::{Add, Div, Mul, Neg, Sub};

pub trait Real:
    Copy
    + From<f64>
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Mul<f64, Output = Self>
    + Add<f64, Output = Self>
{
    fn sqrt(self) -> Self;
}

impl Real for f64 {
    fn sqrt(self) -> f64 {
        f64::sqrt(self)
    }
}

/// Value and derivative along one direction.
#[derive(Clone, Copy, Default)]
pub struct Dual(pub f64, pub f64);

impl From<f64> for Dual {
    fn from(x: f64) -> Dual {
        Dual(x, 0.0)
    }
}
impl Add for Dual {
    type Output = Dual;
    fn add(self, o: Dual) -> Dual {
        Dual(self.0 + o.0, self.1 + o.1)
    }
}
impl Sub for Dual {
    type Output = Dual;
    fn sub(self, o: Dual) -> Dual {
        Dual(self.0 - o.0, self.1 - o.1)
    }
}
impl Mul for Dual {
    type Output = Dual;
    fn mul(self, o: Dual) -> Dual {
        Dual(self.0 * o.0, self.0 * o.1 + self.1 * o.0)
    }
}
impl Div for Dual {
    type Output = Dual;
    fn div(self, o: Dual) -> Dual {
        let q = self.0 / o.0;
        Dual(q, (self.1 - q * o.1) / o.0)
    }
}
impl Neg for Dual {
    type Output = Dual;
    fn neg(self) -> Dual {
        Dual(-self.0, -self.1)
    }
}
impl Mul<f64> for Dual {
    type Output = Dual;
    fn mul(self, x: f64) -> Dual {
        Dual(self.0 * x, self.1 * x)
    }
}
impl Add<f64> for Dual {
    type Output = Dual;
    fn add(self, x: f64) -> Dual {
        Dual(self.0 + x, self.1)
    }
}
impl Real for Dual {
    fn sqrt(self) -> Dual {
        let root = self.0.sqrt();
        Dual(root, 0.5 * self.1 / root)
    }
}
