//! Looking values up and integrating them.

use super::*;

fn scope() -> Inputs {
    let text = "T [K],k [W/(m·K)],c\n80,10,1\n100,14,2\n120,15,4\n";
    let table = Table::read(text.as_bytes()).expect("a table");
    let mut inputs = Inputs::of(&[("T", "90.0(5) K"), ("far", "130 K"), ("p", "3 kPa")]);
    inputs.tables.push(("k.csv".to_owned(), Arc::new(table)));
    inputs
}

#[test]
fn values_between_rows() {
    let found = worked("table(\"k.csv\", T)", &scope());
    // Halfway from 10 to 14; the slope is 0.2 W/(m·K) for each kelvin, and u(T) 0.5 K.
    assert_eq!(found.precise(), "12 ± 0.2 W/(m·K) (k=2)");
    assert_eq!(worked("table(\"k.csv\", \"c\", 110 K)", &scope()).precise(), "3");
    assert_eq!(worked("table(\"k.csv\", 90 K, \"linear\")", &scope()).precise(), "12 W/(m·K)");
    let cubic = worked("table(\"k.csv\", 90 K, \"cubic\")", &scope());
    assert!(cubic.quantity.si_f64() > 12.0 && cubic.quantity.si_f64() < 14.0, "{}", cubic.precise());
}

#[test]
fn integrals_are_those_of_the_curve() {
    // 20·(10 + 14)/2 + 20·(14 + 15)/2 W/m.
    let area = worked("integral(\"k.csv\", 80 K, 120 K) to W/m", &scope());
    assert_eq!(area.precise(), "530 W/m");
    assert_eq!(worked("integral(\"k.csv\", 120 K, 80 K) to W/m", &scope()).precise(), "-530 W/m");
}

#[test]
fn what_cannot_be_looked_up() {
    let inputs = scope();
    let message = |text: &str| errors(text, &inputs)[0].message.clone();
    assert!(message("table(\"k.csv\", far)").contains("outside the table"));
    assert!(message("table(\"k.csv\", p)").contains("a temperature"), "{}", message("table(\"k.csv\", p)"));
    assert!(message("table(\"none.csv\", T)").contains("none.csv"));
    assert!(message("table(\"k.csv\", \"nothing\", T)").contains("nothing"));
    assert!(message("table(T)").contains("names the file"));
    assert!(message("table(\"k.csv\", T, \"wild\")").contains("no way"));
}
