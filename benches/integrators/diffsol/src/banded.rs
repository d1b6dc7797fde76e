//! A system of equations with a banded Jacobian, as diffsol wants it: right-hand side, sparse matrix, start.
//!
//! The matrix's places are known beforehand (diffsol would look for them with one evaluation a column, anew for every mesh); its
//! values are exact, by one evaluation with derivatives for each of the `below + above + 1` groups of columns that share no row.

use crate::real::{Dual, Real};
use diffsol::op::ParameterisedOp;
use diffsol::op::unit::UnitCallable;
use diffsol::{
    ConstantOp, FaerContext, FaerSparseMat, FaerVec, Matrix, NonLinearOp, NonLinearOpJacobian, OdeEquations,
    OdeEquationsRef, Op, Vector,
};
use std::cell::{Cell, RefCell};

pub type M = FaerSparseMat<f64>;
pub type V = FaerVec<f64>;

/// What a problem has to say for itself.
pub trait Banded {
    const BELOW: usize;
    const ABOVE: usize;
    type Work<R: Real>;
    fn work<R: Real>(&self) -> Self::Work<R>;
    fn rate<R: Real>(&self, t: f64, y: &[R], yp: &mut [R], work: &mut Self::Work<R>);
}

/// Buffers, state and rate of an evaluation with derivatives.
type Duals<W> = (W, Vec<Dual>, Vec<Dual>);

pub struct Equations<S: Banded> {
    pub system: S,
    start: Vec<f64>,
    context: FaerContext,
    plain: RefCell<S::Work<f64>>,
    duals: RefCell<Duals<S::Work<Dual>>>,
    pub evaluations: Cell<usize>,
}

impl<S: Banded> Equations<S> {
    pub fn new(system: S, start: Vec<f64>) -> Equations<S> {
        let n = start.len();
        let (plain, dual) = (RefCell::new(system.work()), system.work());
        let duals = RefCell::new((dual, vec![Dual::default(); n], vec![Dual::default(); n]));
        Equations { system, start, context: FaerContext::default(), plain, duals, evaluations: Cell::new(0) }
    }

    fn rows(&self, column: usize) -> std::ops::RangeInclusive<usize> {
        column.saturating_sub(S::ABOVE)..=(column + S::BELOW).min(self.start.len() - 1)
    }
}

/// Right-hand side and start of the equations.
pub struct Part<'a, S: Banded>(&'a Equations<S>);

macro_rules! sizes {
    ($type:ty) => {
        type T = f64;
        type V = V;
        type M = M;
        type C = FaerContext;
    };
}

impl<S: Banded> Op for Equations<S> {
    sizes!(S);
    fn context(&self) -> &FaerContext {
        &self.context
    }
    fn nstates(&self) -> usize {
        self.start.len()
    }
    fn nout(&self) -> usize {
        self.start.len()
    }
    fn nparams(&self) -> usize {
        0
    }
}

impl<S: Banded> Op for Part<'_, S> {
    sizes!(S);
    fn context(&self) -> &FaerContext {
        &self.0.context
    }
    fn nstates(&self) -> usize {
        self.0.start.len()
    }
    fn nout(&self) -> usize {
        self.0.start.len()
    }
    fn nparams(&self) -> usize {
        0
    }
}

impl<S: Banded> NonLinearOp for Part<'_, S> {
    fn call_inplace(&self, x: &V, t: f64, y: &mut V) {
        let eqn = self.0;
        eqn.evaluations.set(eqn.evaluations.get() + 1);
        y.for_each_batch_host([x], |y, [x], _| eqn.system.rate(t, x, y, &mut eqn.plain.borrow_mut()));
    }
}

impl<S: Banded> NonLinearOpJacobian for Part<'_, S> {
    fn jac_mul_inplace(&self, x: &V, t: f64, v: &V, y: &mut V) {
        let eqn = self.0;
        y.for_each_batch_host([x, v], |y, [x, v], _| {
            let (work, state, rate) = &mut *eqn.duals.borrow_mut();
            for ((s, x), v) in state.iter_mut().zip(x).zip(v) {
                *s = Dual(*x, *v);
            }
            eqn.system.rate(t, state, rate, work);
            for (y, r) in y.iter_mut().zip(rate.iter()) {
                *y = r.1;
            }
        });
    }

    fn jacobian_inplace(&self, x: &V, t: f64, matrix: &mut M) {
        let eqn = self.0;
        let (work, state, rate) = &mut *eqn.duals.borrow_mut();
        let x = x.clone_as_vec();
        let n = x.len();
        let first: Vec<usize> = (0..n)
            .scan(0, |at, j| {
                let here = *at;
                *at += eqn.rows(j).count();
                Some(here)
            })
            .collect();
        let values = matrix.inner_mut()[0].val_mut();
        let groups = S::BELOW + S::ABOVE + 1;
        for group in 0..groups {
            for (i, (s, x)) in state.iter_mut().zip(&x).enumerate() {
                *s = Dual(*x, f64::from(i % groups == group));
            }
            eqn.evaluations.set(eqn.evaluations.get() + 1);
            eqn.system.rate(t, state, rate, work);
            for j in (group..n).step_by(groups) {
                for (k, i) in eqn.rows(j).enumerate() {
                    values[first[j] + k] = rate[i].1;
                }
            }
        }
    }

    fn jacobian_sparsity(&self) -> Option<<M as Matrix>::Sparsity> {
        let n = self.0.start.len();
        let places: Vec<_> = (0..n).flat_map(|j| self.0.rows(j).map(move |i| (i, j))).collect();
        let ones = vec![1.0; places.len()];
        let matrix = M::try_from_triplets(n, n, places, ones, FaerContext::default()).ok()?;
        matrix.sparsity()?.to_owned().ok()
    }
}

impl<S: Banded> ConstantOp for Part<'_, S> {
    fn call_inplace(&self, _t: f64, y: &mut V) {
        y.for_each_batch_host([], |y, [], _| y.copy_from_slice(&self.0.start));
    }
}

impl<'a, S: Banded> OdeEquationsRef<'a> for Equations<S> {
    type Rhs = Part<'a, S>;
    type Init = Part<'a, S>;
    type Mass = ParameterisedOp<'a, UnitCallable<M>>;
    type Root = ParameterisedOp<'a, UnitCallable<M>>;
    type Out = ParameterisedOp<'a, UnitCallable<M>>;
    type Reset = ParameterisedOp<'a, UnitCallable<M>>;
}

impl<S: Banded> OdeEquations for Equations<S> {
    fn rhs(&self) -> Part<'_, S> {
        Part(self)
    }
    fn mass(&self) -> Option<<Self as OdeEquationsRef<'_>>::Mass> {
        None
    }
    fn init(&self) -> Part<'_, S> {
        Part(self)
    }
    fn set_params(&mut self, _p: &V) {}
    fn get_params(&self, _p: &mut V) {}
}
