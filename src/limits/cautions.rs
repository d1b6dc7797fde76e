//! Cautions of the bench that a case earns. Estimates, never ratings; each defers to local rules and data sheets.

use super::figure;
use crate::case::glass::Pressures;
use crate::case::{Case, Layout};
use crate::device::strength;

/// Words by which liquids are recognised.
const SOLVENTS: [&str; 9] =
    ["toluene", "ethanol", "decane", "hexadecane", "octanol", "hexane", "solvent", "ether", "acetate"];
const FLUORINATED: [&str; 3] = ["fluor", "perfluoro", "hydrofluoroether"];

/// Cautions in the order of their weight; a periodic thread, which is a computation alone, earns none.
pub fn cautions(case: &Case) -> Vec<String> {
    let Some(pressures) = Pressures::of(case) else { return Vec::new() };
    let mut list = pressure_lines(case, &pressures);
    list.push(
        "Shields and eye protection are a necessity near pressurised glass. Ask your pressure, glass and chemical safety \
         people; follow the safety data sheets and local rules."
            .into(),
    );
    list.push("Broken tips and capillaries cut through gloves: sharps container, no bare hands.".into());
    if case.layout != Layout::Pendant {
        list.push(
            "Making the device: hot filaments burn, and solvent-wet glass must never be heated; epoxies sensitise the skin; \
             chlorosilanes give off hydrogen chloride with water; etching with hydrofluoric acid is for trained people under \
             their own rules only. Follow the makers' data sheets."
                .into(),
        );
        list.push("Strobes and lasers for imaging: follow local rules for the eyes.".into());
    }
    list.extend(liquid_lines(case));
    list
}

fn bar(pa: f64) -> String {
    format!("{} bar", figure(pa / 1e5))
}

fn pressure_lines(case: &Case, pressures: &Pressures) -> Vec<String> {
    let supply = case.supply();
    let mut lines = vec![line("Inner", pressures.inner.total, guide_inner(case), supply.inner_syringe)];
    if let Some(outer) = &pressures.outer {
        lines.push(line("Outer", outer.total, guide_outer(case), supply.outer_syringe));
    }
    let each = strength::SYRINGES.map(|(v, _)| format!("{} on {} mL", bar(strength::jammed(v)), figure(1e6 * v)));
    lines.push(format!(
        "A jammed tip takes all that the pump can give (usual {} N syringe pump): {}.",
        figure(strength::PUMP_FORCE),
        each.join(", ")
    ));
    lines.push(
        "These pressures are estimates, not ratings: tapers, joints and tubing are not covered (push-on joints and tubing: a \
         few bar)."
            .into(),
    );
    lines
}

fn line(name: &str, running: f64, guide: (f64, &str), syringe: Option<f64>) -> String {
    let jammed = match syringe {
        Some(volume) => {
            format!("{} with the tip jammed ({} mL syringe)", bar(strength::jammed(volume)), figure(1e6 * volume))
        }
        None => "far more with the tip jammed (next lines)".into(),
    };
    let over = if running > guide.0 { "ABOVE THE GUIDE. " } else { "" };
    format!(
        "{over}{name} line: about {} while it runs, {jammed}; guide value {} ({}).",
        bar(running),
        bar(guide.0),
        guide.1
    )
}

/// Guide for the inner line: the round capillary, if its wall is known.
pub fn guide_inner(case: &Case) -> (f64, &'static str) {
    match (case.device.round_outer, case.value("supply.inner_bore")) {
        (Some(outer), Some(bore)) => {
            (strength::guide_round(outer, bore), "perfect annealed borosilicate tube of that wall; not a rating")
        }
        _ => (
            strength::guide_round(1.0e-3, 0.75e-3),
            "perfect annealed borosilicate tube 1.0/0.75 mm; not a rating; give round_outer and supply.inner_bore for yours",
        ),
    }
}

/// Guide for the outer line.
pub fn guide_outer(_case: &Case) -> (f64, &'static str) {
    (strength::GUIDE_SQUARE, "flat square walls, own estimate 5 to 12 bar; not a rating")
}

fn liquid_lines(case: &Case) -> Vec<String> {
    let streams = [Some(&case.inner), case.outer.as_ref()];
    let names: Vec<String> =
        streams.iter().flatten().filter_map(|s| s.liquid.as_ref()).map(|n| n.to_lowercase()).collect();
    let any = |words: &[&str]| names.iter().any(|n| words.iter().any(|w| n.contains(w)));
    let mut lines = Vec::new();
    if any(&FLUORINATED) {
        lines.push("Fluorinated liquids: keep from hot surfaces, collect as special waste.".into());
    } else if any(&SOLVENTS) {
        lines
            .push("Solvents burn and their vapours harm: ventilation, no ignition sources, safety data sheets.".into());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};

    fn example(name: &str) -> Case {
        parse(examples::find(name).expect("an example").text, name).unwrap_or_else(|e| panic!("{e}"))
    }

    #[test]
    fn cautions_never_promise() {
        for e in examples::EXAMPLES {
            for text in cautions(&example(e.name)) {
                let words: Vec<String> =
                    text.to_lowercase().split(|c: char| !c.is_alphabetic()).map(str::to_owned).collect();
                assert!(!words.iter().any(|w| w == "safe" || w == "safely"), "{text}");
            }
        }
        assert!(cautions(&example("segment")).is_empty());
    }

    #[test]
    fn both_lines_and_the_jammed_tip_are_told_beside_their_guides() {
        let case = example("coflow").with_text("supply.inner_syringe", "1 mL").expect("a case");
        let all = cautions(&case).join("\n");
        assert!(
            all.contains("Inner line") && all.contains("Outer line") && all.contains("120 bar with the tip jammed")
        );
        assert!(
            all.contains("estimates, not ratings")
                && all.contains("safety data sheets")
                && all.contains("eye protection")
        );
        let thick = case.with_text("inner.viscosity", "300 Pa.s").expect("a case");
        assert!(cautions(&thick)[0].starts_with("ABOVE THE GUIDE"), "{}", cautions(&thick)[0]);
    }

    #[test]
    fn liquids_earn_their_own() {
        let case = example("coflow").with_text("inner.liquid", "toluene").expect("a case");
        assert!(cautions(&case).iter().any(|c| c.contains("ventilation")));
        let case = example("coflow").with_text("inner.liquid", "perfluorohexane").expect("a case");
        assert!(cautions(&case).iter().any(|c| c.contains("special waste")));
    }
}
