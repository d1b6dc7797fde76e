//! Liquids known at single temperatures. Each row: temperature, density, viscosity, surface tension, spread, source, status.

/// How far a row may be used from its temperature, K: viscosity of an oil changes by about 2 to 4 % a kelvin.
pub const ROW_REACH: f64 = 2.5;

/// A liquid at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub name: &'static str,
    /// degC.
    pub temperature: f64,
    /// kg/m3.
    pub density: f64,
    /// mPa s.
    pub viscosity: f64,
    /// mN/m against air.
    pub surface_tension: f64,
    /// Relative spread to expect in the viscosity from one bottle to the next.
    pub spread: f64,
    pub source: &'static str,
    pub status: &'static str,
}

const LIBRARY: &str = "chemicals/thermo 1.5.2/0.6.1 (open property libraries)";
const SHEETS: &str = "the grade's nominal viscosity; the rest typical of polydimethylsiloxane fluids";
const MAKER: &str = "typical of its class";
const SUNFLOWER: &str = "Ryan, Dodge & Callahan 1984, J. Am. Oil Chem. Soc. 61, 1610: refined, bleached and deodorised oil, 67 mm2/s at 20 \
                         degC and 32 mm2/s at 40 degC, 32 to 33 mN/m; density Engler et al. 1983 (918 to 920 kg/m3 at 25 degC) and the \
                         slope of Noureddini, Teoh & Clements 1992, J. Am. Oil Chem. Soc. 69, 1184; six other authors 7 to 12 % more \
                         viscous";
const SECOND_HAND: &str = "a maker's data sheet (0.77 mm2/s, 1614 kg/m3 at 25 degC) and Rausch et al. 2015, as an open simulation of \
                           emulsions cites them; 3-ethoxyperfluoro(2-methylhexane)";

/// Status of a value that no source stands behind: nothing shipped uses it, and a case that does is told so.
pub const NOT_SOURCED: &str = "not sourced: measure it";

const fn row(
    name: &'static str,
    temperature: f64,
    values: (f64, f64, f64, f64),
    told: (&'static str, &'static str),
) -> Row {
    let (density, viscosity, surface_tension, spread) = values;
    Row { name, temperature, density, viscosity, surface_tension, spread, source: told.0, status: told.1 }
}

/// Sorted by name, then temperature.
pub const ROWS: &[Row] = &[
    row("1-octanol", 25.0, (826.01, 7.289, 26.69, 0.02), (LIBRARY, "library")),
    row("decane", 25.0, (726.53, 0.8481, 23.39, 0.02), (LIBRARY, "library")),
    row("dodecane", 25.0, (745.73, 1.3589, 24.93, 0.02), (LIBRARY, "library")),
    row("ethanol", 25.0, (785.13, 1.0824, 21.95, 0.02), (LIBRARY, "library")),
    row("hexadecane", 20.0, (773.83, 3.482, 27.67, 0.02), (LIBRARY, "library")),
    row("hexadecane", 25.0, (770.30, 3.081, 27.23, 0.02), (LIBRARY, "library")),
    row("hydrofluoroether", 25.0, (1614.0, 1.24, 16.2, 0.05), (SECOND_HAND, "published, read second-hand")),
    row("isopropanol", 20.0, (786.75, 2.383, 21.26, 0.02), (LIBRARY, "library")),
    row("isopropanol", 25.0, (781.87, 2.050, 20.85, 0.02), (LIBRARY, "library")),
    row("light mineral oil", 25.0, (840.0, 25.0, 29.0, 0.2), ("typical of the grade, 20 to 30 mPa.s", NOT_SOURCED)),
    row("octamethyltrisiloxane", 25.0, (815.39, 0.834, 16.65, 0.02), (LIBRARY, "library")),
    row("perfluorohexane", 25.0, (1676.6, 0.670, 11.67, 0.02), (LIBRARY, "library")),
    row("perfluorotrialkylamine oil", 25.0, (1855.0, 4.1, 16.0, 0.1), (MAKER, NOT_SOURCED)),
    row("silicone oil 10 cSt", 25.0, (935.0, 9.4, 20.1, 0.05), (SHEETS, NOT_SOURCED)),
    row("silicone oil 100 cSt", 25.0, (964.0, 96.0, 20.9, 0.05), (SHEETS, NOT_SOURCED)),
    row("silicone oil 1000 cSt", 25.0, (970.0, 970.0, 21.2, 0.05), (SHEETS, NOT_SOURCED)),
    row("silicone oil 20 cSt", 25.0, (950.0, 19.0, 20.6, 0.05), (SHEETS, NOT_SOURCED)),
    row("silicone oil 50 cSt", 25.0, (960.0, 48.0, 20.8, 0.05), (SHEETS, NOT_SOURCED)),
    row("sunflower oil", 20.0, (922.4, 61.8, 32.7, 0.1), (SUNFLOWER, "published; varies with seed and age")),
    row("sunflower oil", 40.0, (908.6, 29.1, 32.7, 0.1), (SUNFLOWER, "published; varies with seed and age")),
    row("toluene", 25.0, (862.24, 0.5522, 27.91, 0.02), (LIBRARY, "library")),
];

/// Rows of one liquid, by temperature.
pub fn rows(name: &str) -> Vec<Row> {
    ROWS.iter().filter(|r| r.name == name).copied().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Kinematic viscosity (mm2/s) of sunflower oils as published, by author, and density (kg/m3) at 25 degC; read in an open
    // collection of such tables.
    #[test]
    fn published_sunflower_oils_lie_within_the_spread() {
        let oil = |t: f64| crate::liquids::look_up("sunflower oil", Some(t + 273.15)).expect("known");
        let kinematic = |t: f64| 1e6 * oil(t).viscosity.si / oil(t).density.si;
        // Ryan et al. 1984: crude, refined, dewaxed, deodorised.
        for (t, nu) in [(20.0, 66.0), (20.0, 65.0), (20.0, 65.0), (20.0, 67.0), (40.0, 31.0), (40.0, 32.0)] {
            assert!((kinematic(t) / nu - 1.0).abs() < 0.035, "{t} {nu}: {}", kinematic(t));
        }
        // Goering et al. 1982; Demirbas 1998; Karaosmanoglu et al. 2000; Peterson et al. 1983; Altin et al. 2001 at 27 degC.
        for (t, nu) in [(40.0, 33.9), (40.0, 34.4), (40.0, 34.2), (40.0, 34.9), (27.0, 58.0)] {
            assert!((kinematic(t) / nu - 1.0).abs() < 0.125, "{t} {nu}: {}", kinematic(t));
        }
        // Engler et al. 1983: crude, degummed, dewaxed.
        for rho in [918.0, 920.0, 920.0] {
            assert!((oil(25.0).density.si / rho - 1.0).abs() < 2e-3);
        }
    }

    // CRC Handbook of Chemistry and Physics, 44th ed., as read on an encyclopedia's data page: 2.3703 mPa.s and 21.7 mN/m at 20 degC.
    #[test]
    fn published_isopropanol_of_a_handbook() {
        let at_20 = rows("isopropanol")[0];
        assert!((at_20.viscosity / 2.3703 - 1.0).abs() < 0.02 && (at_20.surface_tension / 21.7 - 1.0).abs() < 0.03);
    }

    // The reference list (open property libraries; makers' data where it says so), figure by figure.
    #[test]
    fn published_list_is_carried_over_unchanged() {
        let text = include_str!("../../tests/data/liquids/liquids.csv");
        let mut checked = 0;
        for line in text.lines().skip(2) {
            let cells: Vec<&str> = line.splitn(6, ',').collect();
            let (name, temperature) = (cells[0], cells[1].parse::<f64>());
            let Ok(temperature) = temperature else { continue };
            let ours = ROWS
                .iter()
                .find(|r| name.starts_with(r.name) && r.name.len() + 12 > name.len() && r.temperature == temperature);
            let Some(ours) = ours else { continue };
            let of = |i: usize| cells[i].parse::<f64>().expect("a number");
            assert_eq!((ours.density, ours.viscosity, ours.surface_tension), (of(2), of(3), of(4)), "{name}");
            checked += 1;
        }
        assert!(checked >= 15, "{checked}");
    }
}
