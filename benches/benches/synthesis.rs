//! The field of a model at many sites: against the crate world_magnetic_model, which gives the vector
//! alone in `f32`, while a sample here has the whole gradient too.
//!
//! Every figure is preceded by an assertion that the answers agree.

#![allow(clippy::expect_used, reason = "the values are constants that are in range")]
#![allow(missing_docs, reason = "criterion writes the entry points")]

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use dipward_field::{igrf14, wmm2025};
use dipward_plugin::{Clock, FieldSample, MainField, Site};
use world_magnetic_model::{
    GeomagneticField,
    time::Date,
    uom::si::{
        angle::degree,
        f32::{Angle, Length},
        length::kilometer,
        magnetic_flux_density::nanotesla,
    },
};

const SITES: usize = 4096;
const YEAR: i32 = 2027;
const DAY: u16 = 182;

/// SplitMix64 (S. Vigna's public-domain generator).
struct Seeded(u64);

impl Seeded {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Sites over both polar regions, from the ground to 3 km.
fn sites() -> Vec<Site> {
    let mut seeded = Seeded(14);
    (0..SITES)
        .map(|at| {
            let latitude_deg = 55.0 + 34.9 * seeded.uniform();
            Site {
                latitude_deg: if at % 2 == 0 { latitude_deg } else { -latitude_deg },
                longitude_deg: 360.0 * seeded.uniform() - 180.0,
                height_km: 3.0 * seeded.uniform(),
            }
        })
        .collect()
}

fn theirs(site: &Site, date: Date) -> GeomagneticField {
    GeomagneticField::new(
        Length::new::<kilometer>(site.height_km as f32),
        Angle::new::<degree>(site.latitude_deg as f32),
        Angle::new::<degree>(site.longitude_deg as f32),
        date,
    )
    .expect("a site on Earth in a year of the model")
}

fn synthesis(criterion: &mut Criterion) {
    let sites = sites();
    let date = Date::from_ordinal_date(YEAR, DAY).expect("a date");
    let instant = "2027-07-01T00:00Z".parse().expect("a time");
    let year = Clock::decimal_year_of(instant);
    let (wmm, igrf) = (wmm2025().expect("carried"), igrf14().expect("carried"));
    let mut out = vec![FieldSample::default(); SITES];
    wmm.sample(year, &sites, &mut out).expect("sites on Earth");
    for (site, own) in sites.iter().zip(&out) {
        let theirs = theirs(site, date);
        let vector = [theirs.x(), theirs.y(), theirs.z()].map(|part| part.get::<nanotesla>());
        for (own, theirs) in
            [own.vector.north_nt, own.vector.east_nt, own.vector.down_nt].into_iter().zip(vector)
        {
            // Theirs is f32 throughout: 60,000 nT are known to a few hundredths, longitudes to a metre,
            // and what is summed from many terms to less.
            assert!((own - f64::from(theirs)).abs() < 1.0, "{site:?}: {own} {theirs}");
        }
    }

    let mut group = criterion.benchmark_group("synthesis");
    group.throughput(Throughput::Elements(SITES as u64));
    group.bench_function("world_magnetic_model, vector", |bencher| {
        bencher.iter(|| {
            sites.iter().fold(0.0, |sum, site| {
                let field = theirs(black_box(site), date);
                sum + field.x().value + field.y().value + field.z().value
            })
        });
    });
    for (name, model) in
        [("WMM2025, vector and gradient", &wmm), ("IGRF-14, vector and gradient", &igrf)]
    {
        for batch in [4, 16, SITES] {
            group.bench_with_input(BenchmarkId::new(name, batch), &batch, |bencher, &batch| {
                let snapshot = model.at(year).expect("a year of the model");
                bencher.iter(|| {
                    for (sites, out) in sites.chunks(batch).zip(out.chunks_mut(batch)) {
                        snapshot.sample(black_box(sites), out).expect("sites on Earth");
                    }
                    out[0].vector.north_nt
                });
            });
        }
    }
    group.finish();
}

criterion_group!(benches, synthesis);
criterion_main!(benches);
