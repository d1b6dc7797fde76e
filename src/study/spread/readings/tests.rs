use super::*;
use crate::study::csv::ROW_MAX;
use approx::assert_relative_eq;
use proptest::prelude::*;

fn table(text: &str) -> Table {
    read(text.as_bytes(), &Hints::default()).unwrap_or_else(|p| panic!("{p:?}"))
}

fn problems(text: &[u8]) -> Vec<Problem> {
    match read(text, &Hints::default()) {
        Ok(table) => panic!("accepted: {table:?}"),
        Err(errors) => errors.problems,
    }
}

#[test]
fn readings_are_grouped_by_drop_in_order_of_appearance() {
    let found = table("drop,diameter_um,image\nb,60.5,1\na,61,1\nb,60.7,2\n");
    assert_eq!(found.drops.iter().map(|d| d.name.as_str()).collect::<Vec<_>>(), ["b", "a"]);
    assert_eq!(found.drops[0].readings.iter().map(|r| r.line).collect::<Vec<_>>(), [2, 4]);
    assert_relative_eq!(found.drops[0].readings[1].diameter, 60.7e-6);
    assert_eq!(found.images, Some(2));
}

#[test]
fn spreadsheets_of_all_kinds_are_understood() {
    let plain = table("drop,diameter_um\n1,60.5\n2,61.5\n");
    for text in [
        "\u{feff}drop,diameter_um\r\n1,60.5\r\n2,61.5\r\n",
        "# nursery, tray 3, invented data\nDrop , Diameter_um\n1, 60.5\n\n# pause\n2, 61.5",
        "drop;diameter_um\n1;60,5\n2;61,5\n",
        "drop\tdiameter_um\n1\t60,5\n2\t61.5\n",
        "\"drop\",\"diameter_um\"\n\"1\",\"60.5\"\n\"2\",\"61.5\"\n",
        "diameter_mm,drop\n0.0605,1\n0.0615,2\n",
    ] {
        let found = table(text);
        let values = |t: &Table| t.drops.iter().map(|d| d.readings[0].diameter).collect::<Vec<_>>();
        for (a, b) in values(&found).iter().zip(values(&plain)) {
            assert_relative_eq!(*a, b, max_relative = 1e-12);
        }
    }
    assert_eq!(table("drop,comment,diameter_um\n1,blurred,60\n").ignored, ["comment"]);
}

#[test]
fn pixels_need_a_scale_and_only_pixels_take_one() {
    let text = "drop,diameter_px\n1,120\n";
    assert!(problems(text.as_bytes())[0].text.contains("--scale"));
    let pixel = Hints { pixel: Some(0.5e-6), ..Hints::default() };
    assert_relative_eq!(read(text.as_bytes(), &pixel).expect("scaled").drops[0].readings[0].diameter, 60e-6);
    assert!(read("drop,diameter_um\n1,60\n".as_bytes(), &pixel).is_err());
    let factor = Hints { factor: Some(1.02), ..Hints::default() };
    assert_relative_eq!(
        read("diameter [um]\n60\n".as_bytes(), &factor).expect("scaled").drops[0].readings[0].diameter,
        61.2e-6,
        max_relative = 1e-12
    );
}

#[test]
fn the_unit_stands_in_the_header_in_any_usual_way() {
    for header in ["diameter [um]", "Diameter [µm]", "diameter (um)", "diameter_um", "diameter [micron]"] {
        let found = table(&format!("{header}\n60\n62\n"));
        assert_relative_eq!(found.drops[1].readings[0].diameter, 62e-6, max_relative = 1e-12);
        assert!(found.list && found.drops.len() == 2, "{header}");
    }
    assert_relative_eq!(table("diameter [nm],drop\n600,a\n").drops[0].readings[0].diameter, 6e-7, max_relative = 1e-12);
    assert!(problems(b"diameter [mPa.s]\n60\n")[0].text.contains("`diameter [mPa.s]`"));
    assert!(problems(b"diameter [furlong]\n60\n")[0].text.contains("furlong"));
}

#[test]
fn a_list_without_a_header_needs_its_unit() {
    let text = b"61.5\n60.5\n61.0\n";
    assert!(problems(text)[0].text.contains("--unit"));
    let found = read(&text[..], &Hints { unit: Some("um".into()), ..Hints::default() }).expect("a list");
    assert_relative_eq!(found.drops[0].readings[0].diameter, 61.5e-6, max_relative = 1e-12);
    assert_eq!((found.drops.len(), found.list, found.column.as_str()), (3, true, "diameter [um]"));
    assert!(problems(b"1,60.5\n2,61\n")[0].text.contains("name the columns"));
}

#[test]
fn every_problem_is_told_with_its_line() {
    let text = "drop,diameter_um\n1,sixty\n,60\n2,\n3,-4\n4,nan\n5,inf\n6,6e9\n7,60,5\n8\r\n9,60\n";
    let found = problems(text.as_bytes());
    assert_eq!(found.iter().map(|p| p.line).collect::<Vec<_>>(), [2, 3, 4, 5, 6, 7, 8, 9, 10], "{found:?}");
    assert!(found[7].text.contains("decimal comma"), "{found:?}");
}

#[test]
fn a_table_without_its_columns_says_which() {
    assert!(problems(b"")[0].text.contains("empty"));
    assert!(problems(b"drop,diameter_um\n")[0].text.contains("no reading"));
    let unnamed = problems(b"nr,diameter\n1,60\n");
    assert!(unnamed.iter().any(|p| p.text.contains("does not say its unit")), "{unnamed:?}");
    assert!(problems(b"drop,diameter_um,diameter_mm\n")[0].text.contains("more than one"));
    assert!(problems(b"drop,drop,diameter_um\n")[0].text.contains("twice"));
}

#[test]
fn files_that_are_no_tables_end_early() {
    assert!(problems(b"\xff\xfed\0r\0o\0p\0")[0].text.contains("UTF-16"));
    assert!(problems(b"PK\x03\x04\0\0\0\0")[0].text.contains("not plain text"));
    let endless = vec![b'x'; 40 * ROW_MAX];
    assert!(problems(&endless)[0].text.contains("longer than"), "{:?}", problems(&endless));
    let mut unclosed = b"drop,diameter_um\n1,\"60\n".to_vec();
    unclosed.extend(std::iter::repeat_n(b"2,61\n", 10_000).flatten());
    assert!(problems(&unclosed)[0].text.contains("quotes"), "{:?}", problems(&unclosed));
    let wide = vec![b','; 3000];
    assert!(problems(&wide)[0].text.contains("columns"));
    let mut many = b"drop,diameter_um\n".to_vec();
    many.extend(std::iter::repeat_n(b"1,x\n", 1000).flatten());
    assert_eq!(problems(&many).len(), PROBLEMS_MAX + 1);
}

proptest! {
    #[test]
    fn any_bytes_are_read_or_refused_without_a_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = read(&bytes[..], &Hints { pixel: Some(1e-6), ..Hints::default() });
    }

    #[test]
    fn any_rows_are_read_or_refused_without_a_panic(text in "(drop|diameter_um|[0-9.,;\"#\r\n\t -]){0,60}") {
        let _ = read(format!("drop,diameter_um\n{text}").as_bytes(), &Hints::default());
    }
}

// Invented: 20,000 drops with two readings each, diameters in steps; the largest tables keep a fair share of whole drops.
#[test]
fn a_table_too_long_for_memory_is_thinned_by_whole_drops() {
    let diameter = |i: u32| 80.0 + 0.01 * f64::from(i % 1000);
    let rows: String = (0..40_000_u32).map(|i| format!("d{},{}\n", i % 20_000, diameter(i % 20_000))).collect();
    let text = format!("drop,diameter [um]\n{rows}");
    let found = read_at_most(text.as_bytes(), &Hints::default(), 6_000).expect("read");
    assert_eq!((found.readings, found.one_of), (40_000, 8));
    assert!((2_000..=3_000).contains(&found.drops.len()), "{}", found.drops.len());
    assert!(found.drops.iter().all(|d| d.readings.len() == 2), "whole drops");
    // A step of 10 um has a standard deviation of 2.89 um: four standard errors of 2,500 drops.
    let mean = found.drops.iter().map(DropReadings::mean).sum::<f64>() / found.drops.len() as f64;
    assert!((mean - 84.995e-6).abs() < 4.0 * 2.89e-6 / 2_500_f64.sqrt(), "{mean}");
    // A list, and the same rows from behind: the same drops by their labels.
    let backwards: String =
        text.lines().skip(1).collect::<Vec<_>>().into_iter().rev().map(|l| format!("{l}\n")).collect();
    let again =
        read_at_most(format!("drop,diameter [um]\n{backwards}").as_bytes(), &Hints::default(), 6_000).expect("read");
    let names = |t: &Table| t.drops.iter().map(|d| d.name.clone()).collect::<std::collections::BTreeSet<_>>();
    assert_eq!(names(&found), names(&again));
    let list: String = (0..20_000_u32).map(|i| format!("{}\n", diameter(i))).collect();
    let found = read_at_most(format!("diameter [um]\n{list}").as_bytes(), &Hints::default(), 6_000).expect("read");
    assert!(found.one_of == 4 && found.list && found.drops.len() < 6_000, "{}", found.drops.len());
    // Few drops with many readings are told, not thinned.
    let few: String = (0..20_000_u32).map(|i| format!("d{},80\n", i % 10)).collect();
    let said =
        read_at_most(format!("drop,diameter [um]\n{few}").as_bytes(), &Hints::default(), 6_000).expect_err("too many");
    assert!(said.problems[0].text.contains("of 10 drops"), "{said:?}");
}
