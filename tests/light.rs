//! Linear light against the published sRGB values.

use burler::pixel::light;

#[test]
fn decoding_gives_the_published_values() {
    // IEC 61966-2-1, 5.2, at eight decimals.
    let published = [
        (1, 0.000_303_53),
        (10, 0.003_035_27),
        (11, 0.003_346_54),
        (64, 0.051_269_46),
        (127, 0.212_230_76),
        (128, 0.215_860_50),
        (188, 0.502_886_46),
        (192, 0.527_115_13),
        (254, 0.991_102_10),
    ];
    for (code, value) in published {
        assert!((light::decode(f64::from(code) / 255.0) - value).abs() < 1e-8, "{code}");
        let tabled = f64::from(light::of_codes()[code as usize]) / 65535.0;
        assert!((tabled - value).abs() <= 0.5 / 65535.0 + 1e-8, "{code}");
    }
    assert_eq!(light::of_codes()[0], 0);
    assert_eq!(light::of_codes()[255], light::FULL);
}

#[test]
fn encoding_gives_the_published_values() {
    // IEC 61966-2-1, 5.3, times 255.
    let published: [(f64, f64); 8] = [
        (0.001, 3.2946),
        (0.01, 25.4625),
        (0.05, 63.1891),
        (0.1, 89.0435),
        (0.18, 117.6458),
        (0.25, 136.9602),
        (0.5, 187.5160),
        (0.75, 224.6104),
    ];
    for (value, code) in published {
        assert!((light::encode(value) * 255.0 - code).abs() < 1e-4, "{value}");
        let tabled = light::to_codes()[(value * 65535.0).round() as usize];
        assert_eq!(f64::from(tabled), code.round(), "{value}");
    }
}

#[test]
fn every_code_comes_back_and_every_light_goes_to_its_nearest_code() {
    for code in 0..=255_u8 {
        assert_eq!(light::to_codes()[usize::from(light::of_codes()[usize::from(code)])], code);
    }
    assert_eq!(light::to_codes().len(), 65536);
    for (value, &code) in light::to_codes().iter().enumerate() {
        let exact = light::encode(value as f64 / 65535.0) * 255.0;
        assert!((exact - f64::from(code)).abs() <= 0.5 + 1e-9, "{value}: {exact} became {code}");
    }
}

#[test]
fn means_are_taken_in_light_not_in_codes() {
    // IEC 61966-2-1: means of two codes in light, as codes.
    let table = light::of_codes();
    for (a, b, mean) in [(64, 192, 146.41_f64), (100, 200, 160.20), (0, 128, 92.37), (0, 255, 187.52)] {
        let light = (u32::from(table[a]) + u32::from(table[b])).div_ceil(2);
        assert_eq!(f64::from(light::to_codes()[light as usize]), mean.round());
    }
}

#[test]
fn compositing_over_paper_is_exact_at_both_ends_and_rounded_between() {
    for light in (0..=65535_u32).step_by(257).map(|light| light as u16) {
        assert_eq!(light::over(light, 255, 12345), light);
        assert_eq!(light::over(light, 0, 12345), 12345);
        for alpha in [1, 64, 128, 254] {
            let a = f64::from(alpha) / 255.0;
            // Porter and Duff, Computer Graphics 18(3), 1984: over an opaque backdrop.
            let exact = f64::from(light) * a + 12345.0 * (1.0 - a);
            assert!((f64::from(light::over(light, alpha, 12345)) - exact).abs() <= 0.5 + 1e-6);
        }
    }
}

#[test]
fn a_row_is_the_same_with_and_without_the_way_for_opaque_rows() {
    let opaque: Vec<u8> = (0..400_u32).flat_map(|i| [i as u8, (i * 7) as u8, (i * 13) as u8, 255]).collect();
    let mut one_clear = opaque.clone();
    one_clear[399 * 4 + 3] = 0;
    let (mut a, mut b) = (vec![[0; 4]; 400], vec![[0; 4]; 400]);
    light::row_over(&opaque, light::FULL, &mut a);
    light::row_over(&one_clear, light::FULL, &mut b);
    for (i, (a, b)) in a.iter().zip(&b).enumerate().take(399) {
        assert_eq!(a[..3], b[..3], "pixel {i}");
    }
    assert_eq!(b[399][..3], [light::FULL; 3]);
}
