//! The canonical text, frozen: marks rest on it. A change here breaks every mark that was ever written.

use super::quantity;

#[test]
fn canonical_text_is_frozen() {
    for (text, canonical) in [
        ("0.5", "5.00000000000e-1 1"),
        ("0", "0 1"),
        ("0 MPa", "0 kg^1 m^-1 s^-2"),
        ("-2.5 kN", "-2.50000000000e3 kg^1 m^1 s^-2"),
        ("6.2 MPa", "6.20000000000e6 kg^1 m^-1 s^-2"),
        ("6.2 MPa gauge", "6.20000000000e6 kg^1 m^-1 s^-2 gauge"),
        ("6.2 MPa abs", "6.20000000000e6 kg^1 m^-1 s^-2 absolute"),
        ("600 psig", "4.13685437590e6 kg^1 m^-1 s^-2 gauge"),
        ("95 K", "9.50000000000e1 K^1 point"),
        ("20 degC", "2.93150000000e2 K^1 point"),
        ("70 degF", "2.94261111111e2 K^1 point"),
        ("5 delta_degC", "5.00000000000e0 K^1 difference"),
        ("1.32 N·m", "1.32000000000e0 kg^1 m^2 s^-2 torque"),
        ("1.32 J", "1.32000000000e0 kg^1 m^2 s^-2 energy"),
        ("12 W", "1.20000000000e1 kg^1 m^2 s^-3 power"),
        ("1e-6 mbar*L/s", "1.00000000000e-7 kg^1 m^2 s^-3 throughput"),
        ("90 deg", "1.57079632679e0 1 angle"),
        ("3000 rpm", "3.14159265359e2 s^-1 angular"),
        ("50 Hz", "5.00000000000e1 s^-1 frequency"),
        ("50 1/s", "5.00000000000e1 s^-1"),
        ("1 in", "2.54000000000e-2 m^1"),
        ("24 V", "2.40000000000e1 kg^1 m^2 s^-3 A^-1"),
        ("1 mol", "1.00000000000e0 mol^1"),
        ("1 m^(1/2)", "1.00000000000e0 m^1/2"),
        // Ties go to the even digit, and a carry moves the exponent.
        ("1.000000000005", "1.00000000000e0 1"),
        ("1.000000000015", "1.00000000002e0 1"),
        ("-1.000000000015", "-1.00000000002e0 1"),
        ("9.999999999995", "1.00000000000e1 1"),
        ("9.999999999994", "9.99999999999e0 1"),
        ("1e308", "1.00000000000e308 1"),
        ("1e-308", "1.00000000000e-308 1"),
    ] {
        assert_eq!(quantity(text).canonical(), canonical, "{text}");
    }
}

#[test]
fn restating_changes_nothing() {
    for (one, other) in [
        ("25.4 mm", "1 in"),
        ("20 degC", "293.15 K"),
        ("20 degC", "68 degF"),
        ("1.5 bar", "150 kPa"),
        ("0.83 ± 0.11 N·m", "830 mN·m"),
        ("80 %", "0.8"),
        ("1 mbar*L/s", "0.1 Pa·m^3/s"),
        ("6 MPa gauge", "6 MPag"),
        ("6 MPa gage", "6 MPag"),
        ("1 rev", "360 deg"),
    ] {
        assert_eq!(quantity(one).canonical(), quantity(other).canonical(), "{one} against {other}");
    }
    assert_ne!(quantity("1 MPa").canonical(), quantity("1 MPa gauge").canonical());
    assert_ne!(quantity("5 K").canonical(), quantity("5 delta_K").canonical());
}

/// Uncertainties are part of seals; that of a normal one is as it was before shapes were read.
#[test]
fn canonical_uncertainty_is_frozen() {
    for (text, canonical) in [
        ("0.83 ± 0.11 N·m", Some("1.10000000000e-1 kg^1 m^2 s^-2")),
        ("0.83 ± 0.11 N·m (k=1)", Some("2.20000000000e-1 kg^1 m^2 s^-2")),
        ("20 ± 0.5 degC", Some("5.00000000000e-1 K^1")),
        ("1.320(15)", Some("3.00000000000e-2 1")),
        ("1.32 ± 0", Some("0 1")),
        ("1.32", None),
        ("[9, 11] m", Some("1.15470053838e0 m^1 rectangular")),
        ("10 ± 1 m (triangular)", Some("8.16496580928e-1 m^1 triangular")),
        ("10 ± 1 m (u-shaped)", Some("1.41421356237e0 m^1 u-shaped")),
        // t for 95.45 % is 2.319 809 441 0 of nine degrees of freedom, by Simpson's rule.
        ("1.320(15) (nu=9)", Some("3.47971416153e-2 1 nu 9.00000000000e0")),
    ] {
        assert_eq!(quantity(text).canonical_uncertainty().as_deref(), canonical, "{text}");
    }
    for (one, other) in [
        ("[999, 1001] mm", "1 ± 0.001 m (rectangular)"),
        ("1 ± 0.3 in (triangular)", "25.4 ± 7.62 mm (triangular)"),
        ("68 ± 0.9 degF (u-shaped)", "20 ± 0.5 degC (arcsine)"),
    ] {
        assert_eq!(
            quantity(one).canonical_uncertainty(),
            quantity(other).canonical_uncertainty(),
            "{one} against {other}"
        );
    }
}
