#![expect(clippy::print_stdout, reason = "the figures are the program's answer")]
//! Probe.
#[path = "../art/mod.rs"]
mod art;
use burler::pipeline::check::line;
use burler::pipeline::check::line::proof::Opinion;
use burler::spec::{Repeat, Ground};
use std::collections::BTreeMap;
fn mixed(name: &str, seed: u64) -> u64 {
    name.bytes().fold(seed, |all, byte| all.wrapping_mul(257).wrapping_add(byte.into()))
}
fn main() {
    let a: Vec<String> = std::env::args().collect();
    if a[1] == "files" {
        for file in &a[2..] {
            let Ok(bytes) = std::fs::read(file) else { continue };
            let Ok(tile) = burler::codec::decode(&bytes, &burler::codec::Limits::default(), Vec::new()) else { continue };
            if tile.raster.width().min(tile.raster.height()) < 64 { continue; }
            let start = std::time::Instant::now();
            let mut opinions = line::opinions(&tile);
            let ms = start.elapsed().as_secs_f64() * 1e3;
            let n = opinions.len();
            opinions.retain(|o| !matches!(o.3, Opinion::Art(_)));
            println!("{file} {}x{} {ms:.1} ms, {n} lines", tile.raster.width(), tile.raster.height());
            for o in opinions.iter().take(3) { println!("   ALARM {:?} {:?} {:.2?}", o.0, o.1, o.3); }
        }
        return;
    }
    if a[1] == "all" || a[1] == "sound" {
        let (from, to): (u64, u64) = (a[2].parse().unwrap(), a[3].parse().unwrap());
        let only = a.get(4).cloned().unwrap_or_default();
        let mut found: BTreeMap<(usize, &str), [usize; 4]> = BTreeMap::new();
        let mut falses: BTreeMap<&str, [usize; 3]> = BTreeMap::new();
        let mut why: BTreeMap<String, usize> = BTreeMap::new();
        for style in art::STYLES.iter().filter(|s| s.ground == Ground::Opaque && (only.is_empty() || s.name == only)) {
            for seed in from..to {
                let (w, h) = if seed % 3 == 0 { (600, 600) } else { art::sides(seed) };
                let sound = art::drawn(style, Repeat::Block, seed, w, h);
                let opinions = line::opinions(&art::tile(sound.clone()));
                let e = falses.entry(style.name).or_default();
                e[0] += 1;
                let p = opinions.iter().filter(|o| matches!(o.3, Opinion::Proven(..))).count();
                let q = opinions.iter().filter(|o| matches!(o.3, Opinion::Plausible(..))).count();
                e[1] += usize::from(p > 0);
                e[2] += usize::from(q > 0);
                if p > 0 {
                    let o = opinions.iter().find(|o| matches!(o.3, Opinion::Proven(..))).unwrap();
                    println!("FALSE {} {seed} {w}x{h} proven {p} plausible {q} of {} {:?} {:?} {:.2?}", style.name, opinions.len(), o.0, o.1, o.3);
                    if let Some(c) = &o.2 { println!("   half {} width {:.2} wobble {:.2} agree {:.2}/{:.2} strength {:.1}/{:.1} n {}", c.half, c.width, c.wobble, c.agreeing, c.agreeing_beside, c.strength, c.noise, c.samples.len()); }
                }
                if a[1] == "sound" { continue; }
                for strength in 0..4 {
                    let made = art::flattened::flattened(&sound, mixed(style.name, seed), strength);
                    let opinions = line::opinions(&art::tile(made.raster.clone()));
                    let p = opinions.iter().any(|o| matches!(o.3, Opinion::Proven(..)));
                    let q = opinions.iter().any(|o| matches!(o.3, Opinion::Plausible(..)));
                    let e = found.entry((strength, style.name)).or_default();
                    e[0] += 1;
                    e[1] += usize::from(made.visible());
                    e[2] += usize::from(made.visible() && p);
                    e[3] += usize::from(made.visible() && !p && q);
                    if made.visible() && !p {
                        let mut reasons: Vec<String> = opinions.iter().map(|o| format!("{:?}", o.3)).collect();
                        reasons.sort(); reasons.dedup();
                        let r: Vec<&str> = reasons.iter().map(|r| r.split(", ").next().unwrap()).collect();
                        let all = r.join(" ");
                        println!("MISS {} {seed} {w}x{h} {strength} {:?} wide {} dE {:.1} around {:.1} paper {:?}: {} {}", style.name, made.lay, made.wide, made.difference, made.around, made.paper, opinions.len(), all);
                        for r in r { *why.entry(r.to_string()).or_default() += 1; }
                        if opinions.is_empty() { *why.entry("nothing traced".into()).or_default() += 1; }
                    }
                }
            }
        }
        println!("{falses:?}");
        for (k, v) in &found { println!("{k:?} {v:?}"); }
        for strength in 0..4 {
            let mut t = [0; 4];
            for (k, v) in &found { if k.0 == strength { for i in 0..4 { t[i] += v[i]; } } }
            println!("strength {strength}: made {} visible {} proven {} plausible {}", t[0], t[1], t[2], t[3]);
        }
        println!("{why:?}");
        return;
    }
    let style = art::named(&a[1]);
    let seed: u64 = a[2].parse().unwrap();
    let (w, h) = if seed % 3 == 0 { (600, 600) } else { art::sides(seed) };
    let sound = art::drawn(style, Repeat::Block, seed, w, h);
    if a.len() > 3 {
        let made = art::flattened::flattened(&sound, mixed(style.name, seed), a[3].parse().unwrap());
        println!("{:?} wide {} paper {:?} dE {:.1} around {:.1} visible {}", made.lay, made.wide, made.paper, made.difference, made.around, made.visible());
        for o in line::opinions(&art::tile(made.raster)) {
            println!("{:?} {:?} {:.3?}", o.0, o.1, o.3);
            if let Some(c) = &o.2 {
                println!("   half {} width {:.2} wobble {:.2} agree {:.2}/{:.2} strength {:.1}/{:.1} n {} {:.2?} W {:.2?} B {:.2?}", c.half, c.width, c.wobble, c.agreeing, c.agreeing_beside, c.strength, c.noise, c.samples.len(),
                line::veil::fitted(c), line::veil::with_paper(c, [255.0;3]).map(|v| (v.cover, v.left, v.shows)), line::veil::with_paper(c, [0.0;3]).map(|v| (v.cover, v.left, v.shows)));
                if std::env::var("DUMP").is_ok() { for s in &c.samples { println!("      {:?} {:?} {:?}", s.side, s.outer, s.sum); } }
            }
        }
    } else {
        for o in line::opinions(&art::tile(sound)) { println!("{:?} {:?} {:.3?}", o.0, o.1, o.3); }
    }
}
