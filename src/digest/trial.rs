//! The test letter: shows that letters arrive, and nothing else.

use super::letter::Letter;

/// A letter without any tile in it.
#[must_use]
pub fn trial() -> Letter {
    let lines = [
        "This is a test letter of Burler.",
        "It has arrived, so the letters about your tiles will too.",
        "Nothing is to be done.",
    ];
    let paragraphs: String = lines.iter().map(|line| format!("<p>{line}</p>\n")).collect();
    Letter {
        subject: "A test letter of Burler".into(),
        html: format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"color-scheme\" \
             content=\"light dark\">\n<title>A test letter of Burler</title>\n</head>\n<body>\n{paragraphs}</body>\n</html>\n"
        ),
        text: format!("{}\n", lines.join("\n\n")),
        pictures: Vec::new(),
    }
}
