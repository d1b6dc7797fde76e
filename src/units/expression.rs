//! Unit expressions: `uL/h`, `mPa.s`, `kg/(m.s)`, `m³ s⁻¹`.

use super::kind::Kind;
use super::table::{Unit, symbol};
use super::{UnitError, quoted, slips, wrong};

/// Deepest nesting of brackets that is read.
const DEPTH_MAX: usize = 4;
/// A slash in words.
const PER: &str = "per ";
/// Share of equal letters above which a unit counts as near.
const NEAR: f64 = 0.55;
/// Two units whose shares of equal letters differ by less than this look alike: less than one letter of ten.
const ALIKE: f64 = 0.1;

/// The unit that an expression stands for. `kind` serves the error's advice alone.
pub fn parse(text: &str, kind: Kind) -> Result<Unit, UnitError> {
    if let Some(error) = slips::in_letters(text, kind) {
        return Err(error);
    }
    let mut reader = Reader { rest: text, whole: text, kind };
    let unit = reader.product(0)?;
    if reader.rest.is_empty() { Ok(unit) } else { Err(reader.error(format!("`{}`", quoted(reader.rest)))) }
}

struct Reader<'a> {
    rest: &'a str,
    whole: &'a str,
    kind: Kind,
}

impl Reader<'_> {
    /// An error about `what`, with the nearest unit of the kind.
    fn error(&self, what: String) -> UnitError {
        let mut error = wrong(format!("{what} is no unit known here"), self.kind);
        error.nearest = nearest(self.whole, self.kind);
        error
    }

    /// Factors with their operators up to the end or a closing bracket.
    fn product(&mut self, depth: usize) -> Result<Unit, UnitError> {
        // `500/s`, `500 per second`: one over a unit.
        let bare = depth == 0 && (self.rest.starts_with('/') || self.rest.starts_with(PER));
        let mut total = if bare { Unit::ONE } else { self.factor(depth)? };
        loop {
            let gap = self.rest.len() - self.rest.trim_start().len();
            self.rest = self.rest.trim_start();
            let (sign, operator) = match self.rest.chars().next() {
                None | Some(')') => return Ok(total),
                Some('/') => (-1, 1),
                Some('p') if self.rest.starts_with(PER) => (-1, PER.len()),
                Some(c @ ('.' | '*' | '·' | '⋅' | '×')) => (1, c.len_utf8()),
                Some(_) if gap > 0 => (1, 0),
                Some(_) => return Err(self.error(format!("`{}`", quoted(self.whole)))),
            };
            self.rest = self.rest[operator..].trim_start();
            total = self.times(total, sign, depth)?;
        }
    }

    fn times(&mut self, total: Unit, sign: i32, depth: usize) -> Result<Unit, UnitError> {
        let next = self.factor(depth)?;
        total.times(&next, sign).ok_or_else(|| self.error(format!("`{}`", quoted(self.whole))))
    }

    /// A symbol or a bracket with its exponent.
    fn factor(&mut self, depth: usize) -> Result<Unit, UnitError> {
        let base = if let Some(inside) = self.rest.strip_prefix('(') {
            if depth == DEPTH_MAX {
                return Err(self.error(format!("`{}`", quoted(self.whole))));
            }
            self.rest = inside.trim_start();
            let unit = self.product(depth + 1)?;
            let Some(after) = self.rest.strip_prefix(')') else {
                return Err(self.error(format!("`{}` lacks a closing bracket and", quoted(self.whole))));
            };
            self.rest = after;
            unit
        } else {
            self.symbol()?
        };
        match self.exponent()? {
            1 => Ok(base),
            power => Unit::ONE.times(&base, power).ok_or_else(|| self.error(format!("`{}`", quoted(self.whole)))),
        }
    }

    fn symbol(&mut self) -> Result<Unit, UnitError> {
        if let Some(after) = self.rest.strip_prefix('1')
            && !after.starts_with(|c: char| c.is_ascii_digit() || c == '.')
        {
            self.rest = after;
            return symbol("1").ok_or_else(|| self.error("`1`".into()));
        }
        let letter = |c: char| (c.is_alphabetic() || matches!(c, '%' | '°' | '℃' | 'µ')) && !is_superscript(c);
        let end = self.rest.find(|c| !letter(c)).unwrap_or(self.rest.len());
        let (name, after) = self.rest.split_at(end);
        if name.is_empty() {
            let what = if self.rest.is_empty() { quoted(self.whole) } else { quoted(self.rest) };
            return Err(self.error(format!("`{what}`")));
        }
        let found = symbol(name).ok_or_else(|| self.error(format!("`{}`", quoted(name))))?;
        self.rest = after;
        Ok(found)
    }

    /// `3`, `-1`, `^3`, `³`, `⁻¹` behind a symbol, else 1.
    fn exponent(&mut self) -> Result<i32, UnitError> {
        let caret = self.rest.strip_prefix('^');
        let rest = caret.unwrap_or(self.rest);
        let end = rest
            .char_indices()
            .find(|(i, c)| {
                !(c.is_ascii_digit() || is_superscript(*c) || (*i == 0 && matches!(c, '-' | '+' | '\u{2212}')))
            })
            .map_or(rest.len(), |(i, _)| i);
        let (digits, after) = rest.split_at(end);
        if digits.is_empty() && caret.is_none() {
            return Ok(1);
        }
        let plain: String = digits.chars().map(plain_digit).collect();
        match plain.parse::<i32>() {
            Ok(power) if power != 0 && power.abs() <= 9 => {
                self.rest = after;
                Ok(power)
            }
            _ => Err(self.error(format!("the exponent in `{}`", quoted(self.whole)))),
        }
    }
}

const SUPERSCRIPTS: [(char, char); 12] = [
    ('⁰', '0'),
    ('¹', '1'),
    ('²', '2'),
    ('³', '3'),
    ('⁴', '4'),
    ('⁵', '5'),
    ('⁶', '6'),
    ('⁷', '7'),
    ('⁸', '8'),
    ('⁹', '9'),
    ('⁻', '-'),
    ('⁺', '+'),
];

fn is_superscript(c: char) -> bool {
    SUPERSCRIPTS.iter().any(|(s, _)| *s == c)
}

fn plain_digit(c: char) -> char {
    if c == '\u{2212}' {
        return '-';
    }
    SUPERSCRIPTS.iter().find(|(s, _)| *s == c).map_or(c, |(_, d)| *d)
}

/// The usual unit of the kind that looks most like the text; none where two look alike and differ in size (`mcL/h` is as near
/// to `mL/h` as to `uL/h`, and a hint off by a thousand is worse than none).
fn nearest(text: &str, kind: Kind) -> Option<String> {
    let plain = text.replace(['µ', 'μ'], "u");
    let score = |unit: &str| strsim::normalized_levenshtein(&plain.to_lowercase(), &unit.to_lowercase());
    let units = kind.usual_units();
    let best = units.iter().max_by(|a, b| score(a).total_cmp(&score(b)))?;
    let rivals = units.iter().filter(|unit| *unit != best && score(unit) > score(best) - ALIKE).count();
    (score(best) >= NEAR && rivals == 0).then(|| (*best).to_owned())
}
