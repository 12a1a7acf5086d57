//! The ticket: the record of one judgment as JSON, one line.
//!
//! The schema is public: other programs read it. Fields are only ever added; a change of meaning raises [`SCHEMA`].

pub mod word;
pub mod swept;
pub mod away;

use crate::finding::{self, Finding, Grade, Kind, Reading, Verdict, rounded};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use word::Mark;

/// The version of the ticket's shape.
pub const SCHEMA: u32 = 1;

/// The version of the rules: raised whenever any rule can judge the same bytes differently, so that kept judgments are
/// not taken for current ones.
pub const RULES: u32 = 5;

/// The smallest repeat a tile holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Unit {
    /// First vector, pixels right and down.
    pub a: [i64; 2],
    /// Second vector.
    pub b: [i64; 2],
    /// How many units one tile holds.
    pub per_tile: u32,
}

/// How the tile repeats.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RepeatFound {
    /// The layouts in which both joints hold, by name, block first.
    pub joins_as: Vec<String>,
    /// The smallest repeat, when one was looked for and found.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub unit: Option<Unit>,
}

/// What was, or could not be, made of a tile beside itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Companion {
    /// The wish, as an order sheet spells it.
    pub wish: String,
    /// Its pixels across; 0 when it could not be made.
    pub width: u32,
    /// Its pixels down.
    pub height: u32,
    /// How many of the smallest repeats it holds.
    pub units: u64,
    /// The repeat it is to be laid in, by name; empty when there is none.
    pub repeat: String,
    /// By how many degrees it is turned, clockwise.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub degrees: Option<f64>,
    /// How large its art is against the tile's, when it is turned; rounded to six decimals.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub scale: Option<f64>,
    /// Why there is none, and what to do.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub refused: Option<String>,
}

/// The record of one judgment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ticket {
    /// [`SCHEMA`].
    pub schema: u32,
    /// [`RULES`].
    pub rules: u32,
    /// The tile's path relative to its folder, or as given on the command line; what is not UTF-8 is replaced.
    pub tile: String,
    /// The raw bytes of the path in hexadecimal, only when it is not UTF-8.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tile_hex: Option<String>,
    /// The hash of the file, 64 hexadecimal digits.
    pub blake3: String,
    /// The container; empty when unknown.
    pub format: String,
    /// Pixels; 0 when unreadable.
    pub width: u32,
    /// Pixels; 0 when unreadable.
    pub height: u32,
    /// The stored layout.
    pub channels: String,
    /// Bits per stored sample.
    pub bit_depth: u8,
    /// Pixels per inch, across and down, when the file gives them.
    pub resolution_dpi: Option<[f64; 2]>,
    /// Print size in millimeters at that resolution.
    pub print_mm: Option<[f64; 2]>,
    /// The color tag.
    pub color_profile: String,
    /// The spec's name; empty for none.
    pub spec: String,
    /// The digest of the spec's content.
    pub spec_digest: String,
    /// `opaque`, `transparent` or `unclear`.
    pub ground: String,
    /// How it repeats.
    pub repeat: RepeatFound,
    /// How many flat colors were seen in it; absent when its art is not flat.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub flat_colors: Option<u32>,
    /// What it comes to.
    pub verdict: Verdict,
    /// All findings, gravest first.
    pub findings: Vec<Finding>,
    /// What was measured, passed or not, when it was asked for.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub readings: Vec<Reading>,
    /// Which of them the artist let pass, by their places in the list from 0. They are silenced too.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub let_pass: Vec<usize>,
    /// What was made of it beside itself.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub companions: Vec<Companion>,
    /// Paths of what was written for it, relative to the output folder; empty in a judgment.
    #[serde(default)]
    pub outputs: Vec<String>,
}

impl Ticket {
    /// Sets aside the faults that the artist's word names: they are silenced, and the verdict is over the rest.
    ///
    /// When a mend that could not be proven is let pass, what was to be mended is let pass with it: the tile goes as it is.
    pub fn set_aside(&mut self, marks: &BTreeSet<Mark>) {
        if marks.is_empty() {
            return;
        }
        self.take_back();
        let meant: Vec<bool> = self
            .findings
            .iter()
            .map(|finding| finding.grade == Grade::Fault && !finding.silenced && marks.contains(&Mark::of(finding)))
            .collect();
        let as_it_is = self.findings.iter().zip(&meant).any(|(one, meant)| *meant && one.kind == Kind::MendUnproven);
        let by_sheet: Vec<Finding> = self.findings.iter().filter(|finding| finding.silenced).cloned().collect();
        for (finding, meant) in self.findings.iter_mut().zip(meant) {
            finding.silenced |= meant || (as_it_is && finding.grade == Grade::Mend);
        }
        finding::put_in_order(&mut self.findings);
        let is_meant = |finding: &Finding| finding.silenced && !by_sheet.contains(finding);
        self.let_pass = (0..).zip(&self.findings).filter(|(_, one)| is_meant(one)).map(|(at, _)| at).collect();
        if self.verdict != Verdict::Unreadable {
            self.verdict = Verdict::over(&self.findings);
        }
    }

    /// Makes everything that was let pass count again.
    pub fn take_back(&mut self) {
        if self.let_pass.is_empty() {
            return;
        }
        for at in std::mem::take(&mut self.let_pass) {
            if let Some(finding) = self.findings.get_mut(at) {
                finding.silenced = false;
            }
        }
        finding::put_in_order(&mut self.findings);
        self.verdict = Verdict::over(&self.findings);
    }

    /// The faults a held picture shows and those let pass before it: what it accepts when it is let pass itself.
    #[must_use]
    pub fn faults(&self) -> BTreeSet<Mark> {
        let counts =
            |(at, one): &(usize, &Finding)| one.grade == Grade::Fault && (!one.silenced || self.let_pass.contains(at));
        (0..).zip(&self.findings).filter(counts).map(|(_, finding)| Mark::of(finding)).collect()
    }

    /// The ticket as one line of JSON without the line end.
    ///
    /// # Errors
    /// Never in practice: every field has a JSON form. The error is passed on rather than hidden.
    pub fn to_line(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string(self)
    }

    /// Reads a line back.
    ///
    /// # Errors
    /// When the line is not a ticket of a schema this program knows.
    pub fn from_line(line: &str) -> Result<Self, serde_json::Error> {
        serde_json::from_str(line)
    }
}

/// Print size in millimeters for pixels at a resolution, both rounded as tickets are.
#[must_use]
pub fn print_mm(width: u32, height: u32, dpi: [f64; 2]) -> [f64; 2] {
    [
        rounded(f64::from(width) / dpi[0] * crate::spec::MM_PER_INCH),
        rounded(f64::from(height) / dpi[1] * crate::spec::MM_PER_INCH),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Area;

    fn finding(kind: Kind, grade: Grade, x: u32) -> Finding {
        let boxes = vec![Area { x, y: 0, width: 1, height: 1 }];
        Finding { kind, grade, silenced: false, boxes, measure: None, says: "seen".into(), remedy: "look".into() }
    }

    fn ticket(findings: Vec<Finding>) -> Ticket {
        let line = r#"{"schema":1,"rules":1,"tile":"kelp.png","blake3":"","format":"png","width":9,"height":9,
            "channels":"rgb","bit_depth":8,"resolution_dpi":null,"print_mm":null,"color_profile":"","spec":"",
            "spec_digest":"","ground":"opaque","repeat":{"joins_as":[]},"verdict":"held","findings":[]}"#;
        let mut ticket = Ticket::from_line(line).unwrap();
        ticket.findings = findings;
        finding::put_in_order(&mut ticket.findings);
        ticket.verdict = Verdict::over(&ticket.findings);
        ticket
    }

    #[test]
    fn what_is_let_pass_no_longer_counts_and_comes_back_exactly() {
        let gap = finding(Kind::AlphaGap, Grade::Fault, 3);
        let sheet = Finding { silenced: true, ..finding(Kind::SizeBytes, Grade::Fault, 0) };
        let mut one = ticket(vec![
            finding(Kind::JointBreak, Grade::Fault, 1),
            gap.clone(),
            finding(Kind::AlphaHairline, Grade::Mend, 2),
            sheet,
        ]);
        let before = one.clone();
        let whole = one.faults();
        assert_eq!(whole.len(), 2, "what the order sheet silences is not asked of the artist");

        one.set_aside(&BTreeSet::from([Mark::of(&gap)]));
        assert_eq!((one.verdict, one.let_pass.len()), (Verdict::Held, 1));
        assert_eq!(one.findings[one.let_pass[0]].kind, Kind::AlphaGap);
        assert_eq!(one.faults(), whole, "a picture drawn now accepts what was accepted before as well");
        one.set_aside(&whole);
        assert_eq!((one.verdict, one.let_pass.len()), (Verdict::Mendable, 2));
        assert_eq!(one.findings[0].kind, Kind::AlphaHairline, "what counts comes first");
        assert_eq!(Ticket::from_line(&one.to_line().unwrap()).unwrap(), one);

        one.take_back();
        assert_eq!(one, before);
        one.set_aside(&BTreeSet::new());
        assert_eq!(one, before);
    }

    #[test]
    fn an_unproven_mend_that_is_let_pass_lets_the_tile_go_as_it_is() {
        let unproven = finding(Kind::MendUnproven, Grade::Fault, 0);
        let mut one = ticket(vec![unproven.clone(), finding(Kind::AlphaHairline, Grade::Mend, 2)]);
        one.set_aside(&BTreeSet::from([Mark::of(&unproven)]));
        assert_eq!((one.verdict, one.let_pass.as_slice()), (Verdict::Sound, &[0, 1][..]));
    }
}
