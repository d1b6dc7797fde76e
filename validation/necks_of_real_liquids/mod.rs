use crate::framework::plot::{Plot, line, linear, log, symbols};
use crate::framework::table::path;
use crate::framework::{Row, Source, Status, Topic, source, whole_table, within};
use crate::solver::{DENSITY, RADIUS, TENSION, unit_of_time, wave};
use rayon::prelude::*;
use slenderjet::case::rheology::{Polymer, RealLiquids, Surfactant, Thinning};
use slenderjet::case::{Case, Stop};
use slenderjet::outcome::Conservation;
use slenderjet::simulate::{Silent, simulate};

/// Smallest neck of a polymer's thread that is compared: below, the two methods of the table part.
const THREAD_LEAST: f64 = 0.05;

/// Neck radii whose times a run tells.
const TOLD: [f64; 5] = [0.5, 0.1, 0.05, 0.02, 0.01];

/// The rows of one parameter set: its cells by name, and (neck radius, time).
struct Set {
    cells: Vec<(String, String)>,
    marks: Vec<(f64, f64)>,
}

impl Set {
    fn text(&self, name: &str) -> &str {
        self.cells.iter().find(|(n, _)| n == name).map_or("", |(_, cell)| cell)
    }

    /// NaN for an empty cell.
    fn number(&self, name: &str) -> f64 {
        self.text(name).parse().unwrap_or(f64::NAN)
    }

    fn wave(&self, stop: Stop) -> Case {
        wave(self.number("Oh"), self.number("kR"), 0.01, stop)
    }

    fn viscosity(&self) -> f64 {
        self.number("Oh") * (DENSITY * TENSION * RADIUS).sqrt()
    }

    fn name(&self, keys: &[&str]) -> String {
        let told = keys.iter().map(|key| (key, self.text(key))).filter(|(_, cell)| !cell.is_empty());
        told.map(|(key, cell)| format!("{key} = {cell}")).collect::<Vec<_>>().join(", ")
    }
}

/// Rows that agree in all columns before `h_min`, in the table's order.
fn sets(file: &str) -> Vec<Set> {
    let text = std::fs::read_to_string(path("tests/data/real_liquids").join(file)).expect("a table");
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let names: Vec<&str> = lines.next().expect("names of columns").split(',').collect();
    let of_mark = names.iter().position(|name| *name == "h_min").expect("a neck");
    let mut found: Vec<Set> = Vec::new();
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        let own: Vec<_> =
            names[..of_mark].iter().zip(&cells).map(|(n, c)| ((*n).to_owned(), (*c).to_owned())).collect();
        let mark: (f64, f64) = (cells[of_mark].parse().expect("a radius"), cells[of_mark + 1].parse().expect("a time"));
        if !TOLD.contains(&mark.0) {
            continue;
        }
        match found.iter_mut().find(|set| set.cells == own) {
            Some(set) => set.marks.push(mark),
            None => found.push(Set { cells: own, marks: vec![mark] }),
        }
    }
    found
}

/// Times of a run at the marks of a set, (table, ours), a mark that the run does not have being NaN; and what it kept.
struct Run {
    pairs: Vec<(f64, f64)>,
    kept: Conservation,
}

fn ran(set: &Set, case: &Case) -> Run {
    let summary = simulate(case, None, &mut Silent).unwrap_or_else(|error| panic!("{error}")).summary;
    let (necks, kept) = (summary.necks.unwrap_or_default(), summary.conservation);
    let time = |radius: f64| {
        let mark = necks.iter().find(|mark| (mark.h_over_r / radius - 1.0).abs() < 1e-9);
        mark.map_or(f64::NAN, |mark| mark.time_s / unit_of_time())
    };
    Run { pairs: set.marks.iter().map(|(radius, t)| (*t, time(*radius))).collect(), kept }
}

/// Largest share of the energy that the budget of a thread may leave open.
const ENERGY: f64 = 0.005;
/// The same of an amount of surfactant: round-off.
const AMOUNT: f64 = 1e-12;

/// Rows of some sets, and of the first of them the curve of the table and our own.
struct Compared {
    rows: Vec<Row>,
    drawn: [Vec<(f64, f64)>; 2],
}

/// Runs the case of each set and compares its times with the table's.
fn compared(
    what: &str,
    all: &[Set],
    case: impl Fn(&Set) -> Case + Sync,
    name: impl Fn(&Set) -> String,
    from: &Source,
    tolerance: f64,
) -> Compared {
    let found: Vec<Run> = all.par_iter().map(|set| ran(set, &case(set))).collect();
    let row = |(set, run): (&Set, &Run)| whole_table(name(set), from, &run.pairs, tolerance);
    let mut rows: Vec<Row> = all.iter().zip(&found).map(row).collect();
    let budget = source("kept by the equations", Status::Theory);
    let worst = |list: &mut dyn Iterator<Item = f64>| {
        list.fold(0.0f64, |most, x| if x > most || x.is_nan() { x } else { most })
    };
    let energy = worst(&mut found.iter().map(|run| run.kept.energy_relative));
    rows.push(within(format!("energy left open by these {what}, at most"), &budget, [0.0, ENERGY], energy));
    let mut amounts = found.iter().filter_map(|run| run.kept.surfactant_relative).peekable();
    if amounts.peek().is_some() {
        let amount = worst(&mut amounts);
        rows.push(within(format!("amount lost by these {what}, at most"), &budget, [0.0, AMOUNT], amount));
    }
    let drawn = |pick: fn(&(f64, f64)) -> f64| -> Vec<(f64, f64)> {
        let (Some(set), Some(run)) = (all.first(), found.first()) else { return Vec::new() };
        set.marks.iter().zip(&run.pairs).map(|((radius, _), pair)| (pick(pair), *radius)).collect()
    };
    Compared { rows, drawn: [drawn(|pair| pair.0), drawn(|pair| pair.1)] }
}

fn surfactant(from: &Source) -> Compared {
    let of_variant: Vec<_> = sets("nl_surfactant.csv").into_iter().filter(|set| set.text("variant") == "M").collect();
    let case = |set: &Set| {
        let (own, packing) = (set.number("E_or_b"), set.number("x"));
        let langmuir = set.text("eos") == "lang";
        let mut case = set.wave(Stop::Drops(1));
        case.real.surfactant = Some(Surfactant::Insoluble {
            elasticity: if langmuir { own * packing / (1.0 - packing) } else { own },
            coverage: langmuir.then_some(packing),
            diffusivity: RADIUS * RADIUS / unit_of_time() / set.number("Pe"),
        });
        case
    };
    let name = |set: &Set| {
        format!("neck times with an insoluble surfactant, {}", set.name(&["Oh", "eos", "E_or_b", "x", "Pe"]))
    };
    compared("threads with a surfactant", &of_variant, case, name, from, 0.004)
}

fn thinning(from: &Source) -> Compared {
    let case = |set: &Set| {
        let mut case = set.wave(Stop::Drops(1));
        let time = set.number("lambda") * unit_of_time();
        case.real.thinning = Some(Thinning { exponent: set.number("n"), time, viscosity_infinite: 0.0 });
        case
    };
    let name = |set: &Set| format!("neck times of a Carreau liquid, {}", set.name(&["Oh", "n", "lambda"]));
    compared("Carreau threads", &sets("nl_carreau.csv"), case, name, from, 0.001)
}

fn polymer(from: &Source) -> Compared {
    let mut all = sets("nl_polymer.csv");
    all.iter_mut().for_each(|set| set.marks.retain(|(radius, _)| *radius >= THREAD_LEAST));
    // until a little after the last mark
    let case = |set: &Set| {
        let last = set.marks.last().map_or(f64::NAN, |(_, t)| *t);
        let mut case = set.wave(Stop::Until(1.005 * last * unit_of_time()));
        let limit = set.number("L2");
        let polymer = Polymer {
            viscosity: (1.0 - set.number("b")) * set.viscosity(),
            relaxation_time: set.number("De") * unit_of_time(),
            extensibility: limit.is_finite().then_some(limit),
        };
        case.real = RealLiquids { polymer: Some(polymer), ..RealLiquids::default() };
        case
    };
    let name = |set: &Set| format!("neck times of a polymer solution, {}", set.name(&["Oh", "b", "De", "L2"]));
    compared("polymer threads", &all, case, name, from, 0.002)
}

pub fn topic() -> Topic {
    let of = |file: &str| {
        let text = format!("the same equations by collocation of sixth order and by finite volumes, {file}");
        source(text, Status::IndependentSolver)
    };
    let all = [
        ("surfactant", surfactant(&of("nl_surfactant.csv, variant M"))),
        ("Carreau", thinning(&of("nl_carreau.csv"))),
        ("polymer", polymer(&of("nl_polymer.csv"))),
    ];
    let (mut rows, mut series) = (Vec::new(), Vec::new());
    for (what, Compared { rows: own, drawn: [table, ours] }) in all {
        rows.extend(own);
        series.push(line(what, ours));
        series.push(symbols(format!("{what}, table"), table));
    }
    Topic {
        folder: "necks_of_real_liquids",
        section: 'C',
        title: "Necks with surfactant, of thinning liquids and of polymer solutions",
        rows,
        figure: Some(Plot { x: linear("time, √(ρR³/γ)"), y: log("neck radius over R"), series }),
    }
}
