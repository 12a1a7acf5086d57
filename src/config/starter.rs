//! The commented starter file that `config init` writes.

/// The starter as shipped.
pub const STARTER: &str = include_str!("../../config/burler.toml");

/// The starter with the designer's own folder, and an order sheet switched on when a width in pixels is given.
///
/// `exports` is written as a TOML string, whatever its characters.
#[must_use]
pub fn filled(exports: &str, checked: Option<&str>, side: Option<u32>) -> String {
    let quote = |text: &str| toml::Value::String(text.into()).to_string();
    // An archive has keys of the same names; only the watched folder's are switched on.
    let (mut in_folder, mut in_sheet) = (false, false);
    let mut out = String::new();
    for line in STARTER.lines() {
        in_folder = (in_folder || line.starts_with("[folder.")) && !line.is_empty();
        let line = if line.starts_with("exports = ") {
            format!("exports = {}", quote(exports))
        } else if let (true, Some(checked)) = (in_folder && line.starts_with("# checked = "), checked) {
            format!("checked = {}", quote(checked))
        } else if let Some(side) = side {
            in_sheet = (in_sheet || line.starts_with("# [spec.")) && !line.is_empty();
            let wanted = ["# [spec.", "# width", "# height", "# resolution", "# ground"];
            if in_folder && line.starts_with("# spec = ") {
                format!("spec = {}", quote(&sheet(side)))
            } else if in_sheet && wanted.iter().any(|start| line.starts_with(start)) {
                line[2..].replace("3600 px", &format!("{side} px")).replace("cloth-12in", &sheet(side))
            } else {
                line.replace("cloth-12in", &sheet(side))
            }
        } else {
            line.into()
        };
        out.push_str(&line);
        out.push('\n');
    }
    out
}

/// A name for the order sheet of a side in pixels at 300 per inch.
fn sheet(side: u32) -> String {
    if side.is_multiple_of(300) { format!("cloth-{}in", side / 300) } else { format!("cloth-{side}px") }
}
