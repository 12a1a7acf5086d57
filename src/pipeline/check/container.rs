//! The container: animation, pages, color mode, profile and depth.
//!
//! Judges what the file says about itself; looks at no pixel.

use crate::finding::{Bound, Finding, Grade, Kind, Measure};
use crate::spec::Spec;
use crate::tile::{Channels, Profile, Tile};

/// All findings on the container.
#[must_use]
pub fn findings(tile: &Tile, spec: &Spec) -> Vec<Finding> {
    let meta = &tile.meta;
    let mut out = Vec::new();
    let mut push = |kind, grade, measure, says: String, remedy: &str| {
        out.push(Finding { kind, grade, silenced: false, boxes: Vec::new(), measure, says, remedy: remedy.into() });
    };
    if meta.frames > 1 {
        push(
            Kind::FileAnimated,
            Grade::Fault,
            Some(Measure::new("frames", meta.frames.into(), "", Bound::Max, 1.0)),
            format!("the file is an animation of {} frames; only the first was looked at", meta.frames),
            "export one still picture",
        );
    }
    if meta.pages > 1 {
        push(
            Kind::FilePages,
            Grade::Fault,
            Some(Measure::new("pages", meta.pages.into(), "", Bound::Max, 1.0)),
            format!("the file holds {} pages; only the first was looked at", meta.pages),
            "export one flat picture without layers or pages",
        );
    }
    if meta.channels == Channels::Cmyk {
        let grade = if spec.rgb_only { Grade::Fault } else { Grade::Advice };
        push(
            Kind::ColorMode,
            grade,
            None,
            "the colors are stored as printing inks (CMYK)".into(),
            "export it in RGB, unless the printer asked for inks",
        );
    }
    profile(&mut push, &meta.profile, spec);
    if let Some(most) = spec.depth
        && meta.bit_depth > most
    {
        push(
            Kind::ColorDepth,
            Grade::Fault,
            Some(Measure::new("depth", meta.bit_depth.into(), "bits", Bound::Max, most.into())),
            format!("the file has {} bits per color and the order takes at most {most}", meta.bit_depth),
            "export it with fewer bits per color",
        );
    }
    out
}

type Push<'a> = dyn FnMut(Kind, Grade, Option<Measure>, String, &str) + 'a;

fn profile(push: &mut Push<'_>, found: &Profile, spec: &Spec) {
    match &spec.profile {
        Some(wanted) => {
            if !names_profile(found, wanted) {
                push(
                    Kind::ColorProfile,
                    Grade::Fault,
                    None,
                    match found {
                        Profile::Untagged => format!("the file carries no color profile and the order wants {wanted}"),
                        other => format!("the color profile is {} and the order wants {wanted}", other.name()),
                    },
                    "export it again with that profile embedded",
                );
            }
        }
        // Untagged files are read as sRGB everywhere; only another profile can surprise a printer (common practice).
        None => {
            if let Profile::Icc(name) = found
                && !is_srgb(name)
            {
                push(
                    Kind::ColorProfile,
                    Grade::Advice,
                    None,
                    format!("the color profile is {name}, not sRGB"),
                    "make sure the printer takes it; colors shift where profiles are ignored",
                );
            }
        }
    }
}

fn is_srgb(name: &str) -> bool {
    name.to_ascii_lowercase().contains("srgb")
}

/// Whether what the file carries answers to the demanded name.
fn names_profile(found: &Profile, wanted: &str) -> bool {
    match found {
        Profile::Untagged => false,
        Profile::Srgb => is_srgb(wanted),
        Profile::Icc(name) if is_srgb(wanted) => is_srgb(name),
        Profile::Icc(name) | Profile::Other(name) => name.to_lowercase().contains(&wanted.to_lowercase()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profiles(found: &Profile, wanted: Option<&str>) -> Vec<Grade> {
        let mut grades = Vec::new();
        let spec = Spec { profile: wanted.map(Into::into), ..Spec::default() };
        profile(&mut |_, grade, _, _, _| grades.push(grade), found, &spec);
        grades
    }

    #[test]
    fn profiles_are_judged_against_the_demand() {
        assert_eq!(profiles(&Profile::Untagged, None), []);
        assert_eq!(profiles(&Profile::Icc("sRGB IEC61966-2.1".into()), None), []);
        assert_eq!(profiles(&Profile::Icc("Wide Harbor".into()), None), [Grade::Advice]);
        assert_eq!(profiles(&Profile::Untagged, Some("sRGB")), [Grade::Fault]);
        assert_eq!(profiles(&Profile::Srgb, Some("sRGB")), []);
        assert_eq!(profiles(&Profile::Icc("sRGB built-in".into()), Some("srgb")), []);
        assert_eq!(profiles(&Profile::Icc("Wide Harbor".into()), Some("wide harbor")), []);
        assert_eq!(profiles(&Profile::Srgb, Some("Wide Harbor")), [Grade::Fault]);
    }
}
