//! Maps on disk: what is written comes back, shards merge to the same bytes, and damage is found out. Invented rows.

use crate::common;
use slenderjet::outcome::Mode;
use slenderjet::record::{self, map as file};
use slenderjet::study::map::{Axis, BorderPoint, Map, Plan, Row, Shard, Spacing, merge};

fn plan() -> Plan {
    let inner = Axis::between("inner.flow", "m3/s", [1e-11, 1e-9], 5, Spacing::Log).expect("possible");
    let outer = Axis::between("outer.flow", "m3/s", [1e-9, 9e-9], 4, Spacing::Linear).expect("possible");
    Plan::new(vec![inner, outer]).expect("two keys")
}

fn shard(shard: Shard) -> Map {
    let plan = plan();
    let row = |index: usize| {
        let mut row = Row::failed(index, plan.values(index), "a reason, with a comma and \"quotes\"");
        if !index.is_multiple_of(3) {
            row.status = match index % 5 {
                0 => slenderjet::study::map::Status::NotEstablished,
                1 => slenderjet::study::map::Status::Partial,
                _ => slenderjet::study::map::Status::Done,
            };
            row.established = Some(!index.is_multiple_of(5));
            (row.size_low_m, row.size_high_m) = (Some(2e-6), index.is_multiple_of(2).then_some(3e-6));
            row.reason = String::new();
            row.mode = Some(Mode::Dripping);
            row.mean_diameter_m = Some(1e-5 / (index as f64 + 0.3));
            row.model_error_relative = index.is_multiple_of(2).then_some(0.05);
            row.satellites_per_primary = Some((index % 2) as f64);
            row.satellite_volume_fraction = Some(2e-5 * (index % 2) as f64 * index as f64);
            row.settled_drops = 3 + index;
            row.warnings = "outer_inertia steep".into();
        }
        row
    };
    let rows = shard.cells(plan.len()).map(row).collect();
    Map {
        title: "invented map".into(),
        layout: "coflow".into(),
        statistics: "invented".into(),
        accuracy: "coarse".into(),
        plan_hash: "abc".into(),
        shard,
        rows,
        border: Vec::new(),
        border_traced: false,
        case_text: "title = \"invented\"\n".into(),
        case_sha256: record::sha256_hex(b"x"),
        version: "0.1.0".into(),
        plan,
    }
}

#[test]
fn what_is_written_comes_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("map.h5");
    let mut map = shard(Shard::WHOLE);
    map.border_traced = true;
    map.border.push(BorderPoint {
        along: 1,
        values: vec![1e-11, 2e-9],
        bracket: [1.99e-9, 2.01e-9],
        modes: [Mode::Dripping, Mode::Jetting],
        runs: 6,
        closed: true,
    });
    file::write(&path, &map).expect("written");
    assert_eq!(file::read(&path).expect("read"), map);
}

#[test]
fn shards_on_disk_merge_to_the_bytes_of_a_whole_run() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let mut shards = Vec::new();
    for index in [2, 3, 1] {
        let path = at(&format!("{index}.h5"));
        file::write(&path, &shard(Shard { index, of: 3 })).expect("written");
        shards.push(file::read(&path).expect("read"));
    }
    file::write(&at("merged.h5"), &merge(shards).expect("they belong together")).expect("written");
    file::write(&at("whole.h5"), &shard(Shard::WHOLE)).expect("written");
    assert!(std::fs::read(at("merged.h5")).expect("bytes") == std::fs::read(at("whole.h5")).expect("bytes"));
}

#[test]
fn a_flipped_bit_or_a_cut_is_found_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("map.h5");
    file::write(&path, &shard(Shard::WHOLE)).expect("written");
    let bytes = std::fs::read(&path).expect("bytes");
    let mut flipped = bytes.clone();
    flipped[bytes.len() / 2] ^= 4;
    for damaged in [&flipped[..], &bytes[..bytes.len() / 2], b"not a map"] {
        std::fs::write(&path, damaged).expect("written");
        assert!(file::read(&path).is_err());
    }
}

#[test]
fn csv_has_the_columns_promised_and_quotes_reasons() {
    let text = file::csv(&shard(Shard::WHOLE));
    let head = "inner.flow,outer.flow,mode,mean_diameter_m,cv,rate_per_s,satellites_per_primary,satellite_volume_fraction,\
                jet_length_m,first_pinch_s,size_low_m,size_high_m,status,reason,satellite_free,warnings,model_error_relative,\
                settled_drops,established\n";
    assert!(text.starts_with(head), "{text}");
    assert_eq!(text.lines().count(), 21);
    assert!(text.contains("\"a reason, with a comma and \"\"quotes\"\"\""));
    assert!(!text.contains("NaN"));
    // One satellite a drop everywhere at odd cells, 1e-4 of the volume reached from cell 5 on.
    let free = |cell: usize| text.lines().nth(cell + 1).and_then(|line| line.rsplit(',').nth(4)).map(str::to_owned);
    assert_eq!([1, 2, 5, 0].map(free).map(|f| f.unwrap_or_default()), ["1", "1", "0", ""]);
}

#[test]
fn a_table_of_cases_comes_back_and_its_shards_belong_together() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("map.h5");
    let mut map = shard(Shard::WHOLE);
    let bare = |axis: &Axis| Axis { values: Vec::new(), spacing: Spacing::List, ..axis.clone() };
    let rows = map.rows.iter().map(|row| row.values.clone()).collect();
    map.plan = Plan::of_rows(map.plan.axes.iter().map(bare).collect(), rows).expect("a table");
    file::write(&path, &map).expect("written");
    let read = file::read(&path).expect("read");
    assert_eq!(read, map);
    let half = |index| {
        let shard = Shard { index, of: 2 };
        let rows = shard.cells(map.plan.len()).map(|i| map.rows[i].clone()).collect();
        Map { shard, rows, ..map.clone() }
    };
    assert_eq!(merge(vec![half(2), half(1)]).expect("whole"), map);
}

/// The grid as xarray opens it, from the interpreter named in `SLENDERJET_PYTHON` (or `.venv/bin/python`), if it is installed there.
#[test]
fn published_a_whole_map_opens_as_labelled_arrays_in_xarray() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("map.h5");
    file::write(&path, &shard(Shard::WHOLE)).expect("written");
    let Some(python) = common::python_with("xarray, h5netcdf, netCDF4") else { return };
    let script = "import sys, xarray as xr, numpy as np
for engine in ('h5netcdf', 'netcdf4'):
    grid = xr.open_dataset(sys.argv[1], group='grid', engine=engine)
    assert dict(grid.sizes) == {'inner_flow': 5, 'outer_flow': 4}, grid.sizes
    assert grid.mean_diameter_m.dims == ('inner_flow', 'outer_flow')
    np.testing.assert_allclose(grid.outer_flow.values, np.linspace(1e-9, 9e-9, 4))
    cell = grid.mean_diameter_m.sel(inner_flow=1e-11, outer_flow=9e-9, method='nearest')
    assert cell.isnull(), 'cell 3 failed'
    np.testing.assert_allclose(grid.mean_diameter_m.isel(inner_flow=1, outer_flow=0), 1e-5 / 4.3)
    assert grid.outer_flow.attrs['units'] == 'm3 s-1' and grid.mean_diameter_m.attrs['units'] == 'm'
    words = grid.mode.attrs['flag_meanings'].split()
    assert words[list(grid.mode.attrs['flag_values']).index(grid.mode.values[0, 1])] == 'dripping'
    assert words[list(grid.mode.attrs['flag_values']).index(grid.mode.values[0, 0])] == 'no_answer'
";
    let done = std::process::Command::new(python).args(["-c", script]).arg(&path).output().expect("it runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}
