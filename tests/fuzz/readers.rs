//! The readers, and texts as people write them.

use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use slipmark::analysis::{self, Request};
use slipmark::calc::{self, Correlations, Given, Scope, Sheet, Source};
use slipmark::model::load::load_one;
use slipmark::quantity::{
    Quantity, Rule, evaluate, judge, names, parse_instrument_uncertainty, parse_measured, parse_number, parse_quantity,
    parse_range, parse_resolution,
};
use slipmark::source::Memory;
use slipmark::table::{Reduce, Reduction, Table, combine, reduce};
use slipmark::text::FileId;

pub const QUANTITIES: &str = "
1.32
4.2 MPa
-297.3 degF
20 °C
6 bar gauge
1.5 MPa abs
6 barg
< 1e-6 mbar*L/s
>= 5 MPa
12 lbf*in
9.80665 m/s^2
3 kg·m^-1·s^-2
0.25 N*m/A
10 slpm(0 degC, 101.325 kPa)
3.2 scfm(60 degF, 14.696 psi)
17.3e-6 1/delta_degC
15 µm
4.7 kΩ
90 deg
3000 rpm
50 %
12 Cv
1_320 N·m
−5.40 V
5 W/(m*K)
2 MPa^(1/2)
TBD
1.5 * meop
meop + 0.2 MPa
(meop - 1 bar) / 2
2 * 9.80665 m/s^2 * 3 m";

pub const UNCERTAINTIES: &str = "
1.32 ± 0.08 N·m
1.32 +/- 0.08 N·m (k=2)
(1.32 ± 0.08) N·m (k=1)
1.32 N·m ± 80 mN·m (k=2.26, nu=9)
4.00 MPa ± 2 %
10 V ± 5 ppm (95 %)
1.3200(15) MPa
1.32(0.04) MPa
123(4)e-6 m (nu=9)
[9.99, 10.02] mm
[9.99, 10.02] mm (95 %, ν = 4)
10.02 mm (resolution 0.01 mm)
90.2 ± 0.5 degC (rectangular)
1.32 ± 0.08 (triangular)
0 ± 0.5 degC (u-shaped)
1.32 ± 0.08 N·m (95 %, dof = 3.5)
± 0.5 % of the reading
0.05 N·m
1.5 %
± 2 degC (k=3)
0 to 5 N·m
-40 degC to 120 degC
± 10 V
0.01 mm
59 of 59";

pub const EXPRESSIONS: &str = "
12 lbf*in to N*m
(1.32 ± 0.08 N*m) * 40 / 2
sqrt(2*g_n*3 m) to ft/s
T = (1.32 ± 0.08 N*m); T / (2.1 ± 0.2 N*m) - 1
20 degC - 5 degF to K
if V > 18 V then 1 else 0
max(1 m, 2 ft, [3 in, 4 yd])
mean([1.2, 1.3, 1.4]) + sd([1, 2, 3])
1.320(15) s ^ 2
-2 ^ -2 ^ 0.5
atan2(1 m, 2 m) to deg
table(\"t.csv\", 1.5 s)
table(\"t.csv\", \"torque\", 1.5 s, \"cubic\")
integral(\"t.csv\", 0 s, 2 s)
R * 293.15 K / (1 bar)
exp(-(1.2 eV) / (k_B * 300 K))
not (1 m > 2 ft and 3 > 2) or false
hypot(3 mm, 4 mm) * sin(30 deg)
x = y + 1; y = 2
a = b; b = a
(2 ± 1)^(1/3) - cbrt(8) + floor(2.5) + log10(100) + ln(2)
sigma * (300 K)^4 to W/m^2
17.3e-6 / degC
1 / 2 s
2 m + 3 s";

pub const SHEETS: [&str; 3] = [
    "stall     = K * V / R_w - T_f\navailable = n * eta * stall  # at the stem\nmargin    = available / T_stem - 1\n",
    "q = Kv_valve * sqrt((4.2 MPa - 4.0 MPa) / G)\nG = 1.141\nKv_valve = (12.3 ± 0.4 Kv)\nflow = q to L/min\n",
    "a = [1.20 V, 1.21 V,\n     1.19 V]\nm = mean(a)\ns = sd(a) / sqrt(count(a))\nok = m + 2 * s < 1.25 V\nr = if ok then m else max(a)\n",
];

pub const TABLES: [&str; 6] = [
    "time [s],torque [N*m]\n0,0.1\n1,0.4\n2,0.2\n3,0.5\n",
    "# logger 3\n# 2026-03-02\ntime (s);pressure (MPa gauge);valve (deg)\n0.00;4.01;0\n0.01;4.02;3\n0.02;3.98;88\n0.03;3.97;90\n",
    "\u{feff}t [ms]\tT [degC]\n0\t20.5\n10\t20.75\n20\tNaN\n30\t\n40\t21\n",
    "when,leak [mbar*L/s],note\r\n2026-03-02T10:00:00Z,1e-6,\"first, warm\"\r\n2026-03-02T10:00:10Z,9e-7,b\r\n",
    "\"volume [m^3]\",\"flow [slpm(0 degC, 101.325 kPa)]\"\n1,2\n\n3,4\n",
    "x,y\n1,1\n2,4\n3,9\n4,16\n",
];

pub const CONDITIONS: &str = "
time > 0.5 s
time >= 0.5 s and not torque < 0.2 N*m
(torque > 0.1 N*m or time < 1 s) and torque <= 1 N*m
torque [N*m] > 0.3 N*m
1.5 s
0.25 s";

/// A number with its uncertainty, a bound, an expression of a limit; what is read is written and read again, and judged.
pub fn quantity(bytes: &[u8]) {
    let text = &*String::from_utf8_lossy(bytes);
    let parameters = |name: &str| (name == "meop").then(|| known("4.0 MPa gauge"));
    let _ = (parse_number(text), names(text), evaluate(text, &parameters).map(|found| found.show()));
    if let Ok(measured) = parse_measured(text) {
        let shown = measured.show();
        assert!(parse_measured(&shown).is_ok(), "`{text}` is shown as `{shown}`, which is not read");
    }
}

/// The notations of instruments, with what they measure.
pub fn uncertainty(bytes: &[u8]) {
    let text = &*String::from_utf8_lossy(bytes);
    let range = parse_range(text);
    let limits = range.ok();
    let _ = (parse_instrument_uncertainty(text, limits.as_ref()).is_ok(), parse_resolution(text).is_ok());
    if let (Some(limits), Ok(measured)) = (&limits, parse_measured("1.0 ± 0.1 N·m")) {
        let _ = judge(&Rule::Guarded, &measured, limits, None);
    }
    if let Ok(measured) = parse_measured(text) {
        let limits = parse_range("0 N·m to 1.4 N·m").expect("a range");
        let _ = judge(&Rule::Guarded, &measured, &limits, Some(&known("101.325 kPa abs")));
    }
}

/// What a calculation can ask for.
struct Known;

impl Scope for Known {
    fn given(&self, name: &str) -> Option<Given> {
        let text = match name {
            "V" => "20 V",
            "R_w" => "1.60 ± 0.05 ohm",
            "K" => "0.0400 ± 0.0008 N·m/A",
            "T_f" => "0.010 ± 0.002 N·m",
            "n" => "150",
            "eta" => "0.420 ± 0.015 (95 %, nu=6)",
            "T_stem" => "16.5 ± 1.5 N·m",
            "p" => "4.0 MPa gauge",
            _ => return None,
        };
        let source = Source { key: name.into(), name: name.into(), quantity: known(text), instrument: None };
        Some(Given::Source(source))
    }

    fn names(&self) -> Vec<String> {
        ["V", "R_w", "K", "T_f", "n", "eta", "T_stem", "p"].map(str::to_owned).to_vec()
    }

    fn table(&self, file: &str) -> Result<Arc<Table>, (String, String)> {
        static TABLE: OnceLock<Arc<Table>> = OnceLock::new();
        match file {
            "t.csv" => {
                Ok(Arc::clone(TABLE.get_or_init(|| Arc::new(Table::read(TABLES[0].as_bytes()).expect("a table")))))
            }
            _ => Err((format!("there is no `{file}`"), "attach it".into())),
        }
    }
}

/// A calculation, worked out as far as it goes, as a block of a record and as an expression that was typed.
pub fn calculation(bytes: &[u8]) {
    let text = &*String::from_utf8_lossy(bytes);
    let work = |sheet: Sheet| {
        let _ = (sheet.outside(), sheet.names(), sheet.tables());
        let Ok(steps) = sheet.check(&Known).and_then(|program| program.work_out(&Correlations::none())) else { return };
        for step in &steps {
            if let Some(worked) = step.worked() {
                let _ = (worked.quantity.show(), worked.budget(), worked.curvature());
            }
        }
    };
    match calc::parse(text) {
        Ok(sheet) => work(sheet),
        Err(errors) => {
            assert!(!errors.is_empty(), "refused without a reason");
            errors.iter().for_each(|error| assert!(text.get(error.range.clone()).is_some(), "{error:?}"));
        }
    }
    if let Ok(sheet) = calc::parse_expression(text) {
        work(sheet);
    }
}

/// A file of data, reduced in every way if it is read at all.
pub fn table(bytes: &[u8]) {
    match Table::read(bytes) {
        Ok(table) => {
            for (_, way) in Reduce::WORDS {
                for column in table.columns().iter().take(3) {
                    let name = Some(column.name.clone());
                    reduced(&table, &Reduction { column: name, smooth: Some(3), ..Reduction::new(way) });
                }
            }
        }
        Err(errors) => errors.iter().for_each(|error| assert!(error.line >= 1 && error.column >= 1, "{error:?}")),
    }
}

/// The conditions and times of reductions.
pub fn condition(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes).into_owned();
    let table = Known.table("t.csv").expect("it is there");
    let column = Some("torque".to_owned());
    let plain = |way| Reduction { column: column.clone(), ..Reduction::new(way) };
    reduced(&table, &Reduction { where_: Some(text.clone()), ..plain(Reduce::Mean) });
    reduced(&table, &Reduction { at: Some(text.clone()), ..plain(Reduce::Value) });
    reduced(&table, &Reduction { against: Some("torque".to_owned()), at: Some(text.clone()), ..plain(Reduce::Fit) });
    let to = Some("torque > 0.3 N*m".to_owned());
    reduced(&table, &Reduction { from: Some(text), to, ..Reduction::new(Reduce::TimeBetween) });
}

fn reduced(table: &Table, reduction: &Reduction) {
    if let Ok(found) = reduce(table, reduction, None) {
        let _ = found.quantity.show();
        if let Some(own) = &found.quantity.uncertainty {
            let _ = combine(&found.quantity, own).show();
        }
    }
}

/// Front matter and body of a file, down to its kind.
pub fn file(bytes: &[u8]) {
    drop(load_one(FileId(0), &String::from_utf8_lossy(bytes)));
}

/// The example with these bytes as one of its files.
pub fn project(files: &[(String, Vec<u8>)], bytes: &[u8]) {
    let at = bytes.len() % files.len();
    let mut memory = Memory::new();
    for (number, (path, text)) in files.iter().enumerate() {
        memory = memory.file(path, if number == at { bytes } else { text });
    }
    let _ = analysis::run(&memory, Request::on("2026-07-01".parse().expect("a day")));
}

/// The example's files with their paths inside of it.
pub fn example() -> Vec<(String, Vec<u8>)> {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("reqs");
    let mut files = Vec::new();
    collect(&top, &top, &mut files);
    files.sort();
    assert!(files.len() > 50, "the example is not where it was");
    files
}

#[allow(clippy::disallowed_methods, reason = "the example lies on the disk")]
fn collect(top: &Path, folder: &PathBuf, files: &mut Vec<(String, Vec<u8>)>) {
    for entry in std::fs::read_dir(folder).expect("the example can be listed") {
        let path = entry.expect("the example can be listed").path();
        if path.is_dir() {
            collect(top, &path, files);
        } else {
            let name = path.strip_prefix(top).expect("inside").to_str().expect("plain").to_owned();
            files.push((name, std::fs::read(&path).expect("the example can be read")));
        }
    }
}

fn known(text: &str) -> Quantity {
    parse_quantity(text).expect("a quantity of the tests")
}

/// The seeds must be read, or little behind the readers is met.
#[test]
fn seeds_are_read() {
    let read = |text: &str, ok: &dyn Fn(&str) -> bool| {
        let lines: Vec<&str> = text.lines().filter(|line| !line.is_empty()).collect();
        let good = lines.iter().filter(|line| ok(line)).count();
        assert!(good * 4 >= lines.len() * 3, "only {good} of {}", lines.len());
    };
    let parameters = |name: &str| (name == "meop").then(|| known("4.0 MPa gauge"));
    read(QUANTITIES, &|text| parse_measured(text).is_ok() || evaluate(text, &parameters).is_ok());
    let instrument = |text: &str| parse_instrument_uncertainty(text, None).is_ok() || parse_range(text).is_ok();
    read(UNCERTAINTIES, &|text| parse_measured(text).is_ok() || instrument(text));
    let works = |sheet: Sheet| sheet.check(&Known).and_then(|program| program.work_out(&Correlations::none())).is_ok();
    read(EXPRESSIONS, &|text| calc::parse_expression(text).is_ok_and(works));
    for sheet in SHEETS {
        assert!(calc::parse(sheet).is_ok_and(works), "{sheet}");
    }
    for table in TABLES {
        assert!(Table::read(table.as_bytes()).is_ok(), "{table}: {:?}", Table::read(table.as_bytes()));
    }
    assert!(
        example().iter().filter(|(_, text)| load_one(FileId(0), &String::from_utf8_lossy(text)).0.is_some()).count()
            > 40
    );
}
