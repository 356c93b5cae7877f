//! Damaged gridded files: two hundred damages of each format (bits turned over, ends cut off) make no panic,
//! no value that the quantity cannot have, and no claim on memory beyond a bound.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a test is its report")]

use std::{fs, path::Path};

use dipward_chart::*;
use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic};
use dipward_plugin::{BuildContext, Clock, Control, Document, LayerPoint, Quantity, Registry};
use geo::coord;
use peak_alloc::PeakAlloc;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// What any damage may claim, beyond what was there before: far below the limits that the readers state, since
/// a file of some kilobytes cannot hold more.
const MOST_MB: f32 = 1024.0;

const DAMAGES: u64 = 200;

/// Format, file of the corpus, kind with FILE for its name, and the quantity's range.
const FORMATS: [(&str, &str, &str, std::ops::RangeInclusive<f32>); 7] = [
    (
        "NetCDF classic",
        "format_netcdf3_classic.nc",
        "{kind: concentration_netcdf, files: [FILE], ice: {stage: grey}}",
        0.0..=1.0,
    ),
    (
        "NetCDF-4",
        "chunks.nc",
        "{kind: concentration_netcdf, files: [FILE], ice: {stage: grey}}",
        0.0..=1.0,
    ),
    (
        "NetCDF-4 with positions",
        "bent.nc",
        "{kind: concentration_netcdf, files: [FILE], ice: {stage: grey}}",
        0.0..=1.0,
    ),
    (
        "NetCDF-4 of depths",
        "depth_packed.nc",
        "{kind: raster, file: FILE, variable: depth, gives: elevation}",
        -12_000.0..=9_000.0,
    ),
    (
        "GeoTIFF, tiled with a mask",
        "mask_inner_tiled.tif",
        "{kind: raster, file: FILE, gives: ice_concentration}",
        0.0..=1.0,
    ),
    (
        "GeoTIFF with tags",
        "scaled_tags.tif",
        "{kind: raster, file: FILE, gives: ice_thickness}",
        0.0..=50.0,
    ),
    (
        "NSIDC binary",
        "nt_daily.bin",
        "{kind: concentration_nsidc, images: [{file: FILE}], ice: {stage: grey}}",
        0.0..=1.0,
    ),
];

/// Numbers from a seed (the xorshift of G. Marsaglia, 2003).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % end as u64) as usize
    }
}

fn damaged(whole: &[u8], seed: u64) -> Vec<u8> {
    let mut numbers = Numbers(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let mut bytes = whole.to_vec();
    if seed.is_multiple_of(4) {
        bytes.truncate(numbers.below(whole.len()));
        return bytes;
    }
    for _ in 0..=numbers.below(4) {
        // Headers say how the rest is to be read.
        let end = if numbers.below(2) == 0 { bytes.len().min(2000) } else { bytes.len() };
        let place = numbers.below(end);
        bytes[place] ^= 1 << numbers.below(8);
    }
    bytes
}

/// Whether the file is read; panics where a value cannot be.
fn read(folder: &Path, yaml: &str, range: &std::ops::RangeInclusive<f32>) -> bool {
    let mut registry = Registry::default();
    registry.register::<ConcentrationNetcdfSpec>().unwrap();
    registry.register::<ConcentrationNsidcSpec>().unwrap();
    registry.register::<RasterSpec>().unwrap();
    let clock = Clock::new("2027-01-01T00:00Z".parse().unwrap());
    let context = BuildContext::new(folder, Hemisphere::South, clock, 24.0);
    let document = Document::parse("test", yaml).map_err(|failed| failed.1.to_string()).unwrap();
    let Ok(built) = registry.build::<LayerPoint>("", document.value(), &context) else {
        return false;
    };
    let polar =
        PolarStereographic::variant_b(Hemisphere::South, -70.0, 0.0, Ellipsoid::WGS84).unwrap();
    let grid = Grid::new(polar, coord! { x: 1.7e6, y: -2.3e6 }, 25_000.0, 24, 20).unwrap();
    let layers = [NamedLayer { name: "layer", layer: built.object.as_ref() }];
    let wanted = [Quantity::ICE_CONCENTRATION, Quantity::ICE_THICKNESS, Quantity::ELEVATION];
    let control = Control::default();
    let Ok(chart) = Chart::lay(grid, clock, 24.0, &layers, &wanted, &control) else {
        return false;
    };
    let first = chart.quantities()[0];
    for value in chart.values(0, first, &control).unwrap() {
        assert!(value.is_nan() || range.contains(&value), "{yaml}: {first} is {value}");
    }
    true
}

#[test]
fn damages_make_no_panic_no_impossible_value_and_no_claim_on_memory() {
    let corpus = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures/gridded"));
    for (format, file, yaml, range) in FORMATS {
        let whole = fs::read(corpus.join(file)).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let yaml = yaml.replace("FILE", file);
        fs::write(folder.path().join(file), &whole).unwrap();
        assert!(read(folder.path(), &yaml, &range), "{format}");
        let (mut kept, mut most) = (0, 0.0_f32);
        for seed in 0..DAMAGES {
            fs::write(folder.path().join(file), damaged(&whole, seed)).unwrap();
            let before = MEMORY.current_usage_as_mb();
            MEMORY.reset_peak_usage();
            kept += u32::from(read(folder.path(), &yaml, &range));
            let claimed = MEMORY.peak_usage_as_mb() - before;
            most = most.max(claimed);
            assert!(claimed < MOST_MB, "{format}, damage {seed}: {claimed} MB");
        }
        println!(
            "{format}: {kept} of {DAMAGES} damages are read all the same, at most {most:.1} MB"
        );
    }
}
