//! Source-over and stacking against the papers, worked examples and second libraries.
mod desk;
mod drawn;

use burler::pixel::difference::{ciede2000, ciede2000_of_lab};
use burler::pixel::over::{Premultiplied, Sample, Straight, over, stacked, times};
use drawn::Dice;

fn deep(color: [f64; 3], alpha: f64) -> Premultiplied<u16> {
    let sample = |value: f64| (value * 65535.0).round() as u16;
    Straight { color: color.map(sample), alpha: sample(alpha) }.premultiply()
}

fn close(pixel: Straight<u16>, color: [f64; 3], alpha: f64) {
    let off = |sample: u16, value: f64| (f64::from(sample) - value * 65535.0).abs();
    assert!(off(pixel.alpha, alpha) <= 1.0, "alpha {} for {alpha}", f64::from(pixel.alpha) / 65535.0);
    for (sample, value) in pixel.color.into_iter().zip(color) {
        assert!(off(sample, value) <= 3.0, "{} for {value}", f64::from(sample) / 65535.0);
    }
}

#[test]
fn worked_examples_of_source_over() {
    let (blue, red) = ([0.0, 0.0, 1.0], [1.0, 0.0, 0.0]);
    // W3C Compositing and Blending Level 1, 5.1, examples: half-covering blue over opaque and over half-covering red.
    close(over(deep(blue, 0.5), deep(red, 1.0)).unpremultiply(), [0.5, 0.0, 0.5], 1.0);
    close(over(deep(blue, 0.5), deep(red, 0.5)).unpremultiply(), [1.0 / 3.0, 0.0, 2.0 / 3.0], 0.75);
    // By the formula of Porter and Duff 1984: co = .2 x .25 + .8 x .5 x .75 = .35, ao = .625.
    close(over(deep([0.2; 3], 0.25), deep([0.8; 3], 0.5)).unpremultiply(), [0.56; 3], 0.625);
}

#[test]
fn layers_may_be_grouped_but_not_exchanged() {
    // W3C Compositing and Blending Level 1, 7.1: over is associative. Premultiplied .472414 at alpha .90625 either way.
    let (a, b, c) = (deep([0.2; 3], 0.5), deep([0.6; 3], 0.25), deep([0.9; 3], 0.75));
    let straight = [0.472_414; 3];
    close(over(over(a, b), c).unpremultiply(), straight, 0.906_25);
    close(over(a, over(b, c)).unpremultiply(), straight, 0.906_25);
    close(over(a, b).unpremultiply(), [0.28; 3], 0.625);
    close(over(b, a).unpremultiply(), [0.36; 3], 0.625);
}

#[test]
fn products_are_rounded_to_the_nearest() {
    for a in 0..=u8::MAX {
        for b in 0..=u8::MAX {
            // Exact for all products of two bytes: t = x + 128; (t + t / 256) / 256.
            let t = u32::from(a) * u32::from(b) + 128;
            assert_eq!(u32::from(times(a, b)), (t + (t >> 8)) >> 8);
        }
    }
    let mut dice = Dice(1);
    for _ in 0..100_000 {
        let (a, b) = (dice.next() as u16, dice.next() as u16);
        let exact = f64::from(a) * f64::from(b) / 65535.0;
        assert!((f64::from(times(a, b)) - exact).abs() < 0.5, "{a} x {b}");
    }
    assert_eq!((times(u16::MAX, u16::MAX), times(u8::MAX, u8::MAX), times(0_u8, 255)), (u16::MAX, u8::MAX, 0));
}

/// Stacks a layer on itself, 8 bits, rounded at each step.
fn stack(alpha: u8) -> impl Iterator<Item = u8> {
    let layer = Straight { color: [200; 3], alpha }.premultiply();
    std::iter::successors(Some(layer), move |&below| Some(over(layer, below))).map(Premultiplied::alpha)
}

#[test]
fn a_layer_stacked_on_itself_follows_one_minus_the_power() {
    // 1 - (1 - a)^n, computed; n = 2 to 8.
    for (alpha, table) in [
        (128, [192, 223, 239, 247, 251, 253, 254]),
        (191, [239, 251, 254, 255, 255, 255, 255]),
        (100, [161, 198, 220, 234, 242, 247, 250]),
        (64, [112, 148, 175, 195, 210, 221, 230]),
    ] {
        for (layers, of_255) in (2..).zip(table) {
            let exact = stacked(f64::from(alpha) / 255.0, layers) * 255.0;
            assert_eq!(exact.round(), f64::from(of_255), "alpha {alpha}, {layers} layers");
        }
    }
    // How many layers it takes to round to full alpha: the least n with (1 - a)^n below 1/510.
    for (alpha, layers) in [(1, 1587), (10, 156), (26, 58), (64, 22), (100, 13), (128, 9), (200, 5)] {
        let at = |n: u32| (stacked(f64::from(alpha) / 255.0, n) * 255.0).round();
        assert_eq!((at(layers - 1), at(layers)), (254.0, 255.0), "alpha {alpha}");
    }
}

#[test]
fn stacking_in_eight_bits_stalls_below_full() {
    let steps = |alpha: u8| stack(alpha).skip(1).take(7).collect::<Vec<_>>();
    assert_eq!(steps(128), [192, 224, 240, 248, 252, 254, 255]);
    assert_eq!(steps(191), [239, 251, 254, 255, 255, 255, 255]);
    assert_eq!(steps(100), [161, 198, 220, 234, 242, 247, 250]);
    assert_eq!(steps(64), [112, 148, 175, 195, 210, 221, 230]);
    // The series stops where a step adds less than half a level: at 255 - floor(127.5 / a).
    for (alpha, end) in [(1, 128), (2, 192), (3, 213), (10, 243), (26, 251), (64, 254), (100, 254), (128, 255)] {
        assert_eq!(stack(alpha).nth(2000), Some(end), "alpha {alpha}");
    }
}

#[test]
fn multiplied_storage_keeps_few_levels_under_low_alpha() {
    // Levels kept and worst error of color in 8 bits, counted over all 256 values.
    for (alpha, levels, worst) in [(1, 2, 127), (2, 3, 64), (10, 11, 13), (64, 65, 2), (128, 129, 1)] {
        let back: Vec<u8> = (0..=u8::MAX)
            .map(|sample| Straight { color: [sample; 3], alpha }.premultiply().unpremultiply().color[0])
            .collect();
        let mut kept = back.clone();
        kept.dedup();
        let off = back.iter().zip(0..=u8::MAX).map(|(back, sample)| back.abs_diff(sample)).max();
        assert_eq!((kept.len(), off), (levels, Some(worst)), "alpha {alpha}");
    }
}

#[test]
fn two_abutting_edges_leave_a_quarter_to_an_eighth_open() {
    // Two layers covering a and 1 - a of a pixel leave ao = 1 - a (1 - a) (Porter and Duff 1984: over takes the edges as
    // uncorrelated); four corners of a quarter each 1 - .75^4.
    let cover = |a: f64| deep([0.3; 3], a);
    let in_eight = |pixel: Premultiplied<u16>| (u32::from(pixel.alpha()) + 128) / 257;
    assert_eq!(in_eight(over(cover(0.5), cover(0.5))), 191);
    assert_eq!(in_eight(over(cover(0.25), cover(0.75))), 207);
    let quarter = cover(0.25);
    assert_eq!(in_eight(over(quarter, over(quarter, over(quarter, quarter)))), 174);
}

/// Random straight pixels and, after them, what a Python program made of them: 8 or 16 bits as hexadecimal.
fn against(program: &str, seed: u64, pixels: usize, digits: usize) -> Vec<([u16; 8], [u16; 4])> {
    let printed = desk::run_python(program, &[&seed.to_string(), &pixels.to_string()]);
    let samples: Vec<u16> = printed
        .trim()
        .as_bytes()
        .chunks(digits)
        .map(|hex| u16::from_str_radix(std::str::from_utf8(hex).expect("ASCII"), 16).expect("hexadecimal"))
        .collect();
    assert_eq!(samples.len(), pixels * 12);
    samples
        .chunks(12)
        .map(|all| (all[..8].try_into().expect("8 samples"), all[8..].try_into().expect("4 samples")))
        .collect()
}

#[test]
fn over_agrees_with_pillow_on_random_pixels() {
    let program = "
import sys, numpy as np
from PIL import Image
rng = np.random.default_rng(int(sys.argv[1]))
n = int(sys.argv[2])
top, under = (rng.integers(0, 256, (n, 1, 4), dtype=np.uint8) for _ in range(2))
made = np.asarray(Image.alpha_composite(Image.fromarray(under), Image.fromarray(top)))
print(np.concatenate([top, under, made], axis=2).tobytes().hex())
";
    let (mut same, mut all) = (0, 0);
    for (inputs, made) in against(program, 5, 20_000, 2) {
        let [tr, tg, tb, ta, ur, ug, ub, ua] = inputs.map(|sample| sample * 257);
        let (top, under) = (Straight { color: [tr, tg, tb], alpha: ta }, Straight { color: [ur, ug, ub], alpha: ua });
        let ours = over(top.premultiply(), under.premultiply()).unpremultiply();
        let [r, g, b] = ours.color;
        let ours = [r, g, b, ours.alpha].map(|sample| (u32::from(sample) + 128) / 257);
        for (ours, made) in ours.into_iter().zip(made) {
            // Pillow works straight in fixed point with 7 bits after the point, so a color close to a half may fall either
            // way; under no alpha at all it keeps the color of the lower layer.
            if made == ours as u16 {
                same += 1;
            } else {
                assert!(
                    ours.abs_diff(u32::from(made)) <= 1 || (ta == 0 && ua == 0),
                    "{inputs:?}: {ours}, Pillow {made}"
                );
            }
            all += 1;
        }
    }
    assert!(same * 100 >= all * 98, "{same} of {all} samples equal");
}

#[test]
fn over_in_sixteen_bits_agrees_with_real_numbers() {
    let program = "
import sys, numpy as np
rng = np.random.default_rng(int(sys.argv[1]))
n = int(sys.argv[2])
top, under = (rng.integers(0, 65536, (n, 4), dtype=np.uint16) for _ in range(2))
t, u = top / 65535.0, under / 65535.0
alpha = t[:, 3:] + u[:, 3:] * (1 - t[:, 3:])
color = t[:, :3] * t[:, 3:] + u[:, :3] * u[:, 3:] * (1 - t[:, 3:])
made = np.rint(np.concatenate([color, alpha], axis=1) * 65535).astype(np.uint16)
print(np.concatenate([top, under, made], axis=1).astype('>u2').tobytes().hex())
";
    for (inputs, made) in against(program, 6, 20_000, 4) {
        let [tr, tg, tb, ta, ur, ug, ub, ua] = inputs;
        let (top, under) = (Straight { color: [tr, tg, tb], alpha: ta }, Straight { color: [ur, ug, ub], alpha: ua });
        let ours = over(top.premultiply(), under.premultiply());
        assert!(ours.alpha().abs_diff(made[3]) <= 1);
        // The premultiplied color, by way of the straight one: half a step of dividing by alpha is half a unit here.
        let straight = ours.unpremultiply();
        for (sample, made) in straight.color.into_iter().zip(made) {
            let back = u32::from(times(sample, straight.alpha));
            assert!(back.abs_diff(u32::from(made)) <= 2, "{inputs:?}: {back}, numpy {made}");
        }
    }
    assert_eq!(u16::MOST, 65535);
}

/// Near colors only: between opposite hues the formula jumps (Sharma, Wu and Dalal 2005, section on discontinuities), and a
/// last digit decides to which side.
#[test]
fn color_difference_agrees_with_another_library() {
    let program = "
import sys, numpy as np
from skimage.color import rgb2lab, deltaE_ciede2000
rng = np.random.default_rng(int(sys.argv[1]))
a = rng.integers(0, 256, (2000, 3), dtype=np.uint8)
b = np.clip(a.astype(int) + rng.integers(-9, 10, a.shape), 0, 255).astype(np.uint8)
for p, q, e in zip(a, b, deltaE_ciede2000(rgb2lab(a), rgb2lab(b))):
    print(*p, *q, e)
";
    for line in desk::run_python(program, &["7"]).lines() {
        let numbers: Vec<f64> = line.split(' ').map(|number| number.parse().expect("a number")).collect();
        let color = |from: usize| std::array::from_fn(|i| numbers[from + i] as u8);
        let found = ciede2000(color(0), color(3));
        // The libraries write the white point and the sRGB matrix with different numbers of digits.
        assert!((found - numbers[6]).abs() < 0.01, "{line}: {found}");
    }
    assert!((ciede2000([0; 3], [255; 3]) - 100.0).abs() < 0.002);
}

#[test]
fn the_color_difference_formula_gives_the_published_pairs() {
    // Sharma, Wu and Dalal, Color Research & Application 30(1):21-30, 2005, table 1, all 34 pairs.
    #[rustfmt::skip]
    let pairs: [([f64; 3], [f64; 3], f64); 34] = [
        ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425), ([50.0, 3.1571, -77.2803], [50.0, 0.0, -82.7485], 2.8615),
        ([50.0, 2.8361, -74.02], [50.0, 0.0, -82.7485], 3.4412), ([50.0, -1.3802, -84.2814], [50.0, 0.0, -82.7485], 1.0),
        ([50.0, -1.1848, -84.8006], [50.0, 0.0, -82.7485], 1.0), ([50.0, -0.9009, -85.5211], [50.0, 0.0, -82.7485], 1.0),
        ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669), ([50.0, -1.0, 2.0], [50.0, 0.0, 0.0], 2.3669),
        ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0009], 7.1792), ([50.0, 2.49, -0.001], [50.0, -2.49, 0.001], 7.1792),
        ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0011], 7.2195), ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0012], 7.2195),
        ([50.0, -0.001, 2.49], [50.0, 0.0009, -2.49], 4.8045), ([50.0, -0.001, 2.49], [50.0, 0.001, -2.49], 4.8045),
        ([50.0, -0.001, 2.49], [50.0, 0.0011, -2.49], 4.7461), ([50.0, 2.5, 0.0], [50.0, 0.0, -2.5], 4.3065),
        ([50.0, 2.5, 0.0], [73.0, 25.0, -18.0], 27.1492), ([50.0, 2.5, 0.0], [61.0, -5.0, 29.0], 22.8977),
        ([50.0, 2.5, 0.0], [56.0, -27.0, -3.0], 31.9030), ([50.0, 2.5, 0.0], [58.0, 24.0, 15.0], 19.4535),
        ([50.0, 2.5, 0.0], [50.0, 3.1736, 0.5854], 1.0), ([50.0, 2.5, 0.0], [50.0, 3.2972, 0.0], 1.0),
        ([50.0, 2.5, 0.0], [50.0, 1.8634, 0.5757], 1.0), ([50.0, 2.5, 0.0], [50.0, 3.2592, 0.335], 1.0),
        ([60.2574, -34.0099, 36.2677], [60.4626, -34.1751, 39.4387], 1.2644),
        ([63.0109, -31.0961, -5.8663], [62.8187, -29.7946, -4.0864], 1.2630),
        ([61.2901, 3.7196, -5.3901], [61.4292, 2.248, -4.962], 1.8731),
        ([35.0831, -44.1164, 3.7933], [35.0232, -40.0716, 1.5901], 1.8645),
        ([22.7233, 20.0904, -46.694], [23.0331, 14.973, -42.5619], 2.0373),
        ([36.4612, 47.858, 18.3852], [36.2715, 50.5065, 21.2231], 1.4146),
        ([90.8027, -2.0831, 1.441], [91.1528, -1.6435, 0.0447], 1.4441),
        ([90.9257, -0.5406, -0.9208], [88.6381, -0.8985, -0.7239], 1.5381),
        ([6.7747, -0.2908, -2.4247], [5.8714, -0.0985, -2.2286], 0.6377),
        ([2.0776, 0.0795, -1.135], [0.9033, -0.0636, -0.5514], 0.9082),
    ];
    for (i, (a, b, expected)) in pairs.into_iter().enumerate() {
        let found = ciede2000_of_lab(a, b);
        assert!((found - expected).abs() < 1e-4, "pair {}: {found}, not {expected}", i + 1);
    }
}

/// One step of the 8-bit code as a color difference, computed by scikit-image 0.26 (`rgb2lab`, `deltaE_ciede2000`).
#[test]
fn steps_of_one_code_have_their_known_differences() {
    for (a, b, expected) in [
        ([128; 3], [129; 3], 0.3778),
        ([0; 3], [1; 3], 0.1571),
        ([255; 3], [254; 3], 0.1978),
        ([255, 0, 0], [254, 0, 0], 0.2079),
        ([0, 0, 255], [0, 0, 254], 0.1275),
        ([128, 128, 128], [131, 128, 128], 1.6880),
    ] {
        let found = ciede2000(a, b);
        assert!((found - expected).abs() < 1e-3, "{a:?} {b:?}: {found}, not {expected}");
    }
}
