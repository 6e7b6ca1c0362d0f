//! Sensor CSV and mapping files.

use quarterturn::agreement::sensor::{Mapping, SensorSwing, read_csv_bytes};
use quarterturn::terms::{Event, Measure};

fn read(text: &str, mapping: &str) -> Result<Vec<SensorSwing>, String> {
    let map =
        Mapping::from_bytes(mapping.as_bytes(), "map.toml".as_ref()).map_err(|e| e.to_string())?;
    read_csv_bytes(text.as_bytes(), &map, "day.csv".as_ref()).map_err(|e| e.to_string())
}

#[test]
fn several_swings_by_line_and_by_column() {
    let by_line = "\u{feff}# made by hand\n# swing: one\ntime_s,thorax_turn_deg\n0,1\n0.01,2\n# swing: two\ntime_s,pelvis_turn_deg\n0,5\n0.01,\n";
    let s = read(by_line, "").expect("CSV");
    assert_eq!(
        s.iter().map(|s| s.name.as_str()).collect::<Vec<_>>(),
        ["one", "two"]
    );
    assert_eq!(s[0].series[&Measure::ThoraxTurn], [Some(1.0), Some(2.0)]);
    assert_eq!(s[1].series[&Measure::PelvisTurn], [Some(5.0), None]);
    assert!(!s[1].series.contains_key(&Measure::ThoraxTurn));

    let by_column = "swing,time_s,event,separation_deg\na,0,,1\na,0.5,top,2\nb,0,,3\na,0.6,,4\n";
    let s = read(by_column, "").expect("CSV");
    let a = s.iter().find(|s| s.name == "a").expect("a");
    assert_eq!(a.time_s, [0.0, 0.5, 0.6]);
    assert_eq!(a.events[&Event::Top], 0.5);
}

#[test]
fn a_mapping_renames_flips_converts_and_counts_samples() {
    let text = "System X export\nline two\nTrial;Frame;Upper;Lower;Mark\nT1;100;0,5;-10;\nT1;101;0,25;none;TOP\n";
    let map = "skip_lines = 2\ndelimiter = \";\"\ndecimal = \",\"\nswing_column = \"Trial\"\nevent_column = \"Mark\"\nmissing = [\"none\"]\n[time]\ncolumn = \"Frame\"\nunit = \"frames\"\nrate_hz = 200\n[columns.thorax_turn]\ncolumn = \"Upper\"\nunit = \"rad\"\nsign = -1\n[columns.pelvis_turn]\ncolumn = \"Lower\"\n[events]\nTOP = \"top\"\n[swings]\nT1 = \"bay3_0412\"\n";
    let s = read(text, map).expect("CSV");
    assert_eq!(s[0].name, "bay3_0412");
    assert_eq!(s[0].time_s, [0.5, 0.505]);
    let thorax = &s[0].series[&Measure::ThoraxTurn];
    assert!((thorax[0].expect("value") + 0.5_f64.to_degrees()).abs() < 1e-12);
    assert_eq!(s[0].series[&Measure::PelvisTurn], [Some(-10.0), None]);
    assert_eq!(s[0].events[&Event::Top], 0.505);

    let rows_only = "pelvis_turn_deg\n1\n2\n3\n";
    let s = read(rows_only, "[time]\nrate_hz = 100\n").expect("CSV");
    assert_eq!(s[0].time_s, [0.0, 0.01, 0.02]);
}

#[test]
fn turns_that_jump_at_180_are_made_continuous() {
    let s = read(
        "time_s,thorax_turn_deg\n0,175\n0.1,\n0.2,-175\n0.3,-170\n",
        "",
    )
    .expect("CSV");
    assert_eq!(
        s[0].series[&Measure::ThoraxTurn],
        [Some(175.0), None, Some(185.0), Some(190.0)]
    );
}

#[test]
fn every_refusal_names_the_line_and_what_to_do() {
    for (text, map, expect) in [
        ("", "", "no samples"),
        ("time_s,hips\n0,1\n", "", "mapping file"),
        ("t,thorax_turn_deg\n0,1\n", "", "time column"),
        (
            "time_s,thorax_turn_deg\n0,1\n0,2\n",
            "",
            "line 3: time 0 s doesn't come after",
        ),
        ("time_s,thorax_turn_deg\n0,x\n", "", "line 2: \"x\""),
        ("time_s,thorax_turn_deg\n0,inf\n", "", "not a number"),
        ("time_s,thorax_turn_deg\nlater,1\n", "", "not a time"),
        ("# event: peak 1.0\n", "", "unknown"),
        ("# event: top soon\n", "", "reads `# event: top 1.234`"),
        ("time_s,event,thorax_turn_deg\n0,peak,1\n", "", "[events]"),
        (
            "time_s,a\n0,1\n",
            "[columns.thorax_turn]\ncolumn = \"b\"\n",
            "The header has: time_s, a",
        ),
        ("", "sign = 2", "unknown field"),
        (
            "",
            "[columns.thorax_turn]\ncolumn = \"b\"\nsign = 2\n",
            "1 or -1",
        ),
        ("", "[columns.torso_twist]\ncolumn = \"b\"\n", "torso_twist"),
        ("", "[time]\nunit = \"frames\"\n", "rate_hz"),
        ("", "[time]\nrate_hz = 0\n", "rate"),
        ("", "delimiter = \",\"\ndecimal = \",\"\n", "same character"),
        ("", "up_axis = \"+x\"\n", "same line"),
    ] {
        let e = read(text, map).expect_err(expect);
        assert!(e.contains(expect), "{e}");
        assert!(e.starts_with("day.csv") || e.starts_with("map.toml"), "{e}");
    }
}
