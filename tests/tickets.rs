//! Tickets pinned to the letter, together with the rules number: whoever changes a rule sees what becomes of known tiles,
//! and raises the number so that kept judgments are not taken for current ones.

use burler::codec::{Limits, picture::encode_png};
use burler::pipeline::{Order, Wants, mockup, run};
use burler::spec::{GroundDemand, Length, Repeat, Spec};
use burler::ticket::{RULES, SCHEMA, Ticket};
use burler::tile::Raster;

/// A woven check of two colors, 12 px a strand, exact on 96 x 96.
fn check(x: u32, y: u32) -> [u8; 4] {
    let over = (x / 12 + y / 12).is_multiple_of(2);
    if over { [24, 60, 90, 255] } else { [236, 226, 205, 255] }
}

/// Round spots of a slow wave, which joins in no layout once it is cut short.
fn spots(x: u32, y: u32) -> [u8; 4] {
    let near = |a: u32, b: u32| (a * a + b * b) < 260;
    let (u, v) = (x % 41, y % 37);
    if near(u.abs_diff(20), v.abs_diff(18)) { [180, 60, 70, 255] } else { [240, 235, 220, 255] }
}

fn drawn(draw: impl Fn(u32, u32) -> [u8; 4]) -> Raster {
    let samples = (0..96).flat_map(|y| (0..96).map(move |x| (x, y))).flat_map(|(x, y)| draw(x, y)).collect();
    Raster::new(96, 96, samples).expect("96 x 96 pixels")
}

fn ticket(raster: &Raster, per_inch: Option<f64>, spec: &Spec) -> String {
    let bytes = encode_png(raster, per_inch).expect("a picture is written");
    let wants = Wants { mend: true, ..Wants::default() };
    let (mockup, limits) = (mockup::Settings::default(), Limits::default());
    let order = Order { name: "tile.png", spec, wants, mockup: &mockup, limits: &limits, let_pass: None };
    let ticket = run(&bytes, &order, Vec::new()).ticket;
    // The hash and the digest are of bytes and of a spelling, not of rules.
    let ticket = Ticket { blake3: "-".into(), spec_digest: "-".into(), ..ticket };
    let line = ticket.to_line().expect("a line");
    assert_eq!(Ticket::from_line(&line).expect("the line is read back"), ticket);
    line
}

#[test]
fn known_tiles_get_known_tickets_under_this_rules_number() {
    let free = Spec::default();
    let cloth = Spec {
        name: "cloth".into(),
        width: Some(Length::Pixels(96)),
        height: Some(Length::Pixels(96)),
        resolution: Some(300.0),
        ground: GroundDemand::Opaque,
        repeat: Some(Repeat::Block),
        ..Spec::default()
    };
    let line = |x, y| if y == 47 { [check(x, y)[0], check(x, y)[1], check(x, y)[2], 128] } else { check(x, y) };
    let hole = |x: u32, y: u32| {
        if x.abs_diff(40) < 9 && y.abs_diff(50) < 9 { [0, 0, 0, 0] } else { check(x, y) }
    };
    let cases = [
        ticket(&drawn(check), Some(300.0), &free),
        ticket(&drawn(spots), Some(300.0), &free),
        ticket(&drawn(line), Some(300.0), &free),
        ticket(&drawn(hole), Some(300.0), &free),
        ticket(&drawn(check), Some(72.0), &cloth),
        ticket(&drawn(check), None, &Spec { width: Some(Length::Pixels(100)), ..cloth }),
    ];
    let pinned = include_str!("tickets/pinned.jsonl");
    let now = cases.join("\n") + "\n";
    assert_eq!(
        now, pinned,
        "tickets changed under schema {SCHEMA}, rules {RULES}: raise the number in src/ticket.rs with them, and pin these:\n{now}"
    );
    assert!(pinned.lines().all(|line| line.starts_with(&format!("{{\"schema\":{SCHEMA},\"rules\":{RULES},"))));
}
