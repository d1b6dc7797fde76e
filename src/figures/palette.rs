//! Colours of all figures and of the report: chosen by lightness first, so that they survive grey print, and along the
//! blue-to-yellow axis, so that readers with red-green colour blindness tell them apart (tested below).

/// Lines and letters.
pub const INK: &str = "#18212f";
/// Ticks, frames, secondary letters.
pub const SLATE: &str = "#5b6675";
/// Laws and guides behind the data.
pub const MIST: &str = "#9aa5b1";
/// The liquid that becomes drops.
pub const OIL: &str = "#f0cf7a";
/// Glass.
pub const GLASS: &str = "#9aabb8";
/// Edge of glass.
pub const GLASS_EDGE: &str = "#5a6b79";
/// Paper.
pub const PAPER: &str = "#ffffff";

/// Ground of a map where it drips, and where it jets.
pub const GROUND_DRIPPING: &str = "#dfe5f0";
pub const GROUND_JETTING: &str = "#faf0dc";
/// Every other half period of a pump.
pub const BAND: &str = "#eef1f4";

/// Series in the order in which they are used; neighbours differ most in lightness.
pub const SERIES: [&str; 5] = ["#1d2f5c", "#e2a93b", "#a3402c", "#5fa4a8", "#7c5f93"];

/// Dashes that go with the series, for grey print.
pub const DASHES: [&str; 5] = ["", "5 2", "1.2 1.6", "6 1.6 1.2 1.6", "3 1.2"];

/// Steps of the sequential scale.
pub const STEPS: usize = 24;

/// Corners of the sequential scale, thin to thick: paper, straw, ochre, rust, plum, night.
const RAMP: [(f64, f64, f64); 6] = [
    (251.0, 248.0, 240.0),
    (243.0, 214.0, 140.0),
    (224.0, 160.0, 70.0),
    (171.0, 84.0, 62.0),
    (95.0, 44.0, 82.0),
    (24.0, 24.0, 58.0),
];

/// The same on a dark page: thin is the page's own ground, thick is light.
const RAMP_DARK: [(f64, f64, f64); 6] = [(27.0, 35.0, 48.0), RAMP[4], RAMP[3], RAMP[2], RAMP[1], RAMP[0]];

/// Colour of the sequential scale at `t` from 0 to 1.
pub fn ramp(t: f64) -> String {
    on(&RAMP, t)
}

/// Colour of the sequential scale on a dark page.
pub fn ramp_dark(t: f64) -> String {
    on(&RAMP_DARK, t)
}

fn on(corners: &[(f64, f64, f64); 6], t: f64) -> String {
    let t = if t.is_finite() { t.clamp(0.0, 1.0) } else { 0.0 } * (corners.len() - 1) as f64;
    let i = (t.floor() as usize).min(corners.len() - 2);
    let f = t - i as f64;
    let mix = |a: f64, b: f64| (a + f * (b - a)).round() as u8;
    let ((r0, g0, b0), (r1, g1, b1)) = (corners[i], corners[i + 1]);
    format!("#{:02x}{:02x}{:02x}", mix(r0, r1), mix(g0, g1), mix(b0, b1))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Glass, liquid and what is around them differ in lightness alone, as in grey print (our bar: ten units of CIE lightness).
    #[test]
    fn glass_liquid_and_outside_differ_in_grey() {
        let light = [GLASS, OIL, PAPER].map(|c| lab(linear(c))[0]);
        assert!(light.windows(2).all(|w| w[1] - w[0] > 10.0), "{light:?}");
    }

    fn linear(hex: &str) -> [f64; 3] {
        let part = |i: usize| f64::from(u8::from_str_radix(&hex[i..i + 2], 16).unwrap()) / 255.0;
        [part(1), part(3), part(5)].map(|c| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) })
    }

    /// CIE lightness (CIE 15:2004; sRGB of IEC 61966-2-1).
    fn lab([r, g, b]: [f64; 3]) -> [f64; 3] {
        let f = |t: f64| if t > 0.008856 { t.cbrt() } else { 7.787 * t + 16.0 / 116.0 };
        let x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505);
        let y = f(0.2126 * r + 0.7152 * g + 0.0722 * b);
        let z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
        (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt()
    }

    fn seen_by(m: [[f64; 3]; 3], c: [f64; 3]) -> [f64; 3] {
        m.map(|row| (row[0] * c[0] + row[1] * c[1] + row[2] * c[2]).clamp(0.0, 1.0))
    }

    /// Machado, Oliveira & Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15, 1291, severity 1 (recalled from memory).
    const PROTAN: [[f64; 3]; 3] =
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]];
    const DEUTAN: [[f64; 3]; 3] =
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]];

    #[test]
    fn neighbouring_series_differ_in_grey_print() {
        for pair in SERIES[..4].windows(2) {
            let (a, b) = (lab(linear(pair[0]))[0], lab(linear(pair[1]))[0]);
            assert!((a - b).abs() > 14.0, "{pair:?}: lightness {a:.0} and {b:.0}");
        }
    }

    #[test]
    fn series_stay_apart_for_red_green_colour_blindness() {
        for m in [PROTAN, DEUTAN] {
            for (i, a) in SERIES.iter().enumerate() {
                for b in &SERIES[i + 1..] {
                    let d = apart(lab(seen_by(m, linear(a))), lab(seen_by(m, linear(b))));
                    assert!(d > 14.0, "{a} and {b} are only {d:.0} apart");
                }
            }
        }
    }

    #[test]
    fn the_ramp_darkens_all_the_way() {
        let lightness: Vec<f64> = (0..=50).map(|i| lab(linear(&ramp(f64::from(i) / 50.0)))[0]).collect();
        assert!(lightness.windows(2).all(|w| w[1] < w[0]));
        assert!(lightness[0] > 95.0 && lightness[50] < 15.0);
        assert_eq!(ramp(f64::NAN), ramp(0.0));
    }
}
