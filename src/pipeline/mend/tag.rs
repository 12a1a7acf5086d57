//! The resolution tag: right pixels under a wrong or missing tag need the tag corrected and nothing else.
//!
//! Takes judged findings and the spec, yields the tag to write. Knows no containers.

use crate::finding::{Finding, Grade, Kind};
use crate::spec::Spec;

/// The pixels per inch to write, when the size check found the tag alone wrong and the spec does not silence that.
#[must_use]
pub fn wanted(findings: &[Finding], spec: &Spec) -> Option<f64> {
    let wrong =
        |finding: &Finding| finding.kind == Kind::SizeResolution && finding.grade == Grade::Mend && !finding.silenced;
    findings.iter().any(wrong).then_some(spec.resolution).flatten()
}
