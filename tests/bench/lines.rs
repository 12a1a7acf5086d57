#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]
//! Probe.
#[path = "../art/mod.rs"]
mod art;
use burler::pipeline::check::line;
use burler::spec::Repeat;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let style = art::named(&a[1]);
    let seed: u64 = a[2].parse().unwrap();
    let (w, h) = (600, 480);
    let sound = art::drawn(style, Repeat::Block, seed, w, h);
    if a.len() > 3 {
        let made = art::flattened::flattened(&sound, seed, a[3].parse().unwrap());
        println!("{:?} wide {} paper {:?} dE {:.1} around {:.1} visible {}", made.lay, made.wide, made.paper, made.difference, made.around, made.visible());
        for line in line::probe(&art::tile(made.raster)) { println!("{line}"); }
    } else {
        for line in line::probe(&art::tile(sound)) { println!("{line}"); }
    }
}
