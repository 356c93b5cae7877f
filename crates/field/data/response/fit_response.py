#!/usr/bin/env python3
"""Fits the learnt response of the polar cap's horizontal field to Kp, place, hour and season.

Reads hourly perturbations `CODE_even_years.csv.gz` (time_utc, north_nt, east_nt; codes and places below)
from the folder that DIPWARD_OBSERVATORIES names, and the packed Kp beside this folder. Writes
`learnt_response.csv` (coefficients: fitted to all stations, and without each of them) and
`cross_validation.csv` (small statistics of fits to half of the years, judged on the other half, and of
fits without a station, judged on that station). No hour of the stations is written.

Needs numpy, scipy, pandas, jax, apexpy (magnetic coordinates). Run: python3 fit_response.py
The model is described in docs/disturbance.md and in crates/field/src/learnt/.
"""
import datetime
import os
import sys
import warnings
from pathlib import Path

import apexpy
import jax
import jax.numpy as jnp
import numpy as np
import pandas as pd
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, minimize, minimize_scalar, least_squares
from scipy.signal import lfilter

HERE = Path(__file__).parent
HOURS = Path(os.environ["DIPWARD_OBSERVATORIES"])
PLACES = {
    "drv": (-66.665, 140.007),
    "sba": (-77.85, 166.763),
    "vos": (-78.45, 106.867),
    "res": (74.69, -94.895),
    "ale": (82.5, -62.35),
}
# As crates/field/src/solar_cycle.rs; the end of the present cycle is assumed 11 years after its start.
MINIMA = np.array([1954.3, 1964.8, 1976.2, 1986.7, 1996.6, 2008.9, 2019.9, 2030.9])
FIRST_SLOT = np.datetime64("1957-10-01T00", "h")
FREEDOM = 6.0  # of the Student t that the scatter is fitted with


def kp_history():
    """Kp of all three-hour slots from 1 October 1957, by unpacking five bits a value."""
    bits = np.unpackbits(np.frombuffer((HERE.parent / "kp_thirds.bin").read_bytes(), np.uint8))
    groups = bits[: len(bits) // 5 * 5].reshape(-1, 5)
    return (groups @ np.array([16, 8, 4, 2, 1])) / 3.0


KP = kp_history()


def magnetic(code, hours, years, day_of_year, ut):
    """Quasi-dipole latitude and magnetic local time at each hour."""
    latitude, longitude = PLACES[code]
    qd = np.empty(len(hours))
    mlt = np.empty(len(hours))

    def harmonics(ut, day):
        out = [np.ones_like(ut)]
        for k in (0, 1, 2):
            for j in (-2, -1, 0, 1, 2):
                if k > 0 or j > 0:
                    phase = 2 * np.pi * (k * ut / 24 + j * day / 365.25)
                    out += [np.cos(phase), np.sin(phase)]
        return np.stack(out, 1)

    for year in np.unique(years):
        at = np.where(years == year)[0]
        apex = apexpy.Apex(year + 0.5)
        there = [float(v) for v in apex.geo2qd(latitude, longitude, 0.0)]
        qd[at] = there[0]
        # Magnetic local time runs unevenly; 240 hours of a year give its harmonics to 0.4 minutes.
        days = np.tile(np.arange(3, 363, 36), 24).astype(float)
        of_day = np.repeat(np.arange(24), 10) + 0.5
        instants = [
            datetime.datetime(int(year), 1, 1) + datetime.timedelta(days=float(d), hours=float(h))
            for d, h in zip(days, of_day)
        ]
        sampled = np.array([float(apex.mlon2mlt(there[1], one)) for one in instants])
        off = (sampled - of_day + 12) % 24 - 12
        middle = np.angle(np.mean(np.exp(1j * off * np.pi / 12))) * 12 / np.pi
        rest = (off - middle + 12) % 24 - 12
        fitted = np.linalg.lstsq(harmonics(of_day, days), rest, rcond=None)[0]
        mlt[at] = (ut[at] + middle + harmonics(ut[at], day_of_year[at]) @ fitted) % 24
    return qd, mlt


def station(code):
    """The hours of a station with all that the response depends on, in the frame of the Sun."""
    table = pd.read_csv(HOURS / f"{code}_even_years.csv.gz", parse_dates=["time_utc"])
    time = table.time_utc.to_numpy().astype("datetime64[h]")
    hour = (time - FIRST_SLOT).astype(int)
    keep = (hour >= 6) & (hour // 3 < len(KP) - 3)
    table, time, hour = table[keep], time[keep], hour[keep]
    latitude, longitude = PLACES[code]
    south = latitude < 0
    year = time.astype("datetime64[Y]").astype(int) + 1970
    day = (time.astype("datetime64[D]") - time.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    ut = hour % 24 + 0.5
    local = (ut + longitude / 15) % 24
    decimal = year + (day + ut / 24) / 365.25
    declination = np.deg2rad(-23.44) * np.cos(2 * np.pi * (day + 10 + ut / 24) / 365.25)
    phi = np.deg2rad(latitude)
    cos_zenith = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(
        (local - 12) * np.pi / 12
    )
    cycle = np.searchsorted(MINIMA, decimal, side="right") - 1
    phase = (decimal - MINIMA[cycle]) / (MINIMA[cycle + 1] - MINIMA[cycle])
    # Kp straight from the middle of one slot to the middle of the next.
    place = (hour + 0.5) / 3 - 0.5
    slot = np.floor(place).astype(int)
    share = place - slot
    kp = (1 - share) * KP[slot] + share * KP[slot + 1]
    qd, mlt = magnetic(code, hour, year, day.astype(float), ut)
    # North and east turned to the Sun's azimuth; the south is mirrored, so that one law serves both.
    azimuth = np.deg2rad(180 - 15 * local if south else 15 * local)
    turned = (table.north_nt.to_numpy(float) + 1j * table.east_nt.to_numpy(float)) * np.exp(-1j * azimuth)
    field = -np.conj(turned) if south else turned
    theta = (mlt - 12) * np.pi / 12
    r = (90 - np.abs(qd)) / 10
    return dict(
        code=code, south=south, hour=hour, year=year, month=time.astype("datetime64[M]").astype(int) % 12 + 1,
        day=day, ut=ut, azimuth=azimuth, field=field, kp=kp, kp_class=np.round(KP[hour // 3]).astype(int),
        x=r * np.cos(theta), y=r * np.sin(theta), cos_zenith=cos_zenith,
        tilt=(-1 if south else 1) * declination / np.deg2rad(23.44), phase=2 * np.pi * phase,
    )


def farthest(stations):
    """Tens of degrees from the magnetic pole beyond which the law is taken as at that distance: a tenth of a
    degree more than the farthest of these stations in any year. Its squares do not carry on."""
    return round(max(np.hypot(p["x"], p["y"]).max() for p in stations) + 0.01, 2)


def features(p, at, reach=np.inf):
    """Features of the mean, of the scatter's logarithm and of its correlation; the order is the file's."""
    x, y, q = p["x"][at], p["y"][at], p["cos_zenith"][at]
    nearer = np.minimum(1, reach / np.hypot(x, y))
    x, y = nearer * x, nearer * y
    k = p["kp"][at] / 3
    one = np.ones_like(x)
    sunlit, twilight, tilt = 0.1 * np.logaddexp(0, q / 0.1), np.tanh(q / 0.15), p["tilt"][at]
    cycle = [np.cos(p["phase"][at]), np.sin(p["phase"][at])]
    linear, square = [one, x, y], [one, x, y, x * x, x * y, y * y]
    outer = lambda *parts: [np.prod(c, 0) for c in __import__("itertools").product(*parts)]
    mean = outer(square, [one, k, k * k], [one, sunlit, twilight]) + outer(linear, [one, k], [one, sunlit], cycle)
    scatter = (
        outer(square, [one, k], [one, twilight])
        + outer([k * k, np.log1p(3 * k)], [one, sunlit])
        + outer(square, [sunlit, tilt])
        + outer([one, k], [one, sunlit], cycle)
    )
    correlation = outer(linear, [one, twilight])
    return [np.stack(f, 1).astype(np.float32) for f in (mean, scatter, correlation)]


def fit(stations, wanted, stride, steps=400):
    """Maximum likelihood of a Student t in the plane, over every `stride`th wanted hour."""
    parts, along, across = [], [], []
    for p in stations:
        at = np.where(wanted(p))[0][::stride]
        parts.append(features(p, at))
        along.append(p["field"][at].real)
        across.append(p["field"][at].imag)
    mean, scatter, correlation = (np.concatenate(f) for f in zip(*parts))
    u, v = (np.concatenate(f).astype(np.float32) for f in (along, across))
    size = [np.sqrt((f**2).mean(0)) for f in (mean, scatter, correlation)]
    mean, scatter, correlation = (jnp.asarray(f / s) for f, s in zip((mean, scatter, correlation), size))
    counts = [mean.shape[1]] * 2 + [scatter.shape[1]] * 2 + [correlation.shape[1]]
    cuts = np.cumsum(counts)[:-1]

    def loss(theta):
        a, b, s1, s2, c = jnp.split(theta, cuts)
        l1, l2, rho = scatter @ s1, scatter @ s2, 0.98 * jnp.tanh(correlation @ c)
        e1 = (u - mean @ a) * jnp.exp(-l1)
        e2 = ((v - mean @ b) * jnp.exp(-l2) - rho * e1) / jnp.sqrt(1 - rho * rho)
        tail = 0.5 * (FREEDOM + 2) * jnp.log1p((e1**2 + e2**2) / FREEDOM)
        shrink = 1e-5 * jnp.sum(theta[cuts[1] :] ** 2)
        return jnp.mean(l1 + l2 + 0.5 * jnp.log(1 - rho * rho) + tail) + shrink

    start = np.zeros(sum(counts))
    least = np.linalg.lstsq(np.asarray(mean[::4]), np.stack([u[::4], v[::4]], 1), rcond=1e-4)[0]
    start[: cuts[0]], start[cuts[0] : cuts[1]] = least[:, 0], least[:, 1]
    start[cuts[1]] = start[cuts[2]] = 3.3
    step = jax.jit(jax.value_and_grad(loss))

    def call(theta):
        value, slope = step(jnp.asarray(theta, jnp.float32))
        return float(value), np.asarray(slope, float)

    done = minimize(call, start, jac=True, method="L-BFGS-B", options=dict(maxiter=steps, maxcor=30))
    print("fitted", [p["code"] for p in stations], len(u), "hours, loss", round(done.fun, 4), done.nit, flush=True)
    scale = np.concatenate([size[0], size[0], size[1], size[1], size[2]])
    return *np.split(done.x / scale, cuts), farthest(stations)


def moments(law, p, at):
    a, b, s1, s2, c, reach = law
    mean, scatter, correlation = features(p, at, reach)
    return mean @ a, mean @ b, np.exp(scatter @ s1), np.exp(scatter @ s2), 0.98 * np.tanh(correlation @ c)


def whitened(law, p, at):
    mu, mv, s1, s2, rho = moments(law, p, at)
    e1 = (p["field"][at].real - mu) / s1
    return e1, ((p["field"][at].imag - mv) / s2 - rho * e1) / np.sqrt(1 - rho * rho)


# The spread and the mean of the logarithm of Student's amplitude, as in crates/field/src/learnt/motion.rs.
SIZE_SPREAD, SIZE_MEAN = 0.314224, 0.087914


def log_site_factor(law, p, at):
    """Logarithm of how much larger a station's scatter is than the law says: of greatest likelihood."""
    e1, e2 = whitened(law, p, at)
    square = e1**2 + e2**2
    slope = lambda log_s: np.mean((FREEDOM + 2) * square / (FREEDOM * np.exp(2 * log_s) + square)) - 2
    return brentq(slope, -1.5, 1.5)


# Sizes of the mean's error that are tried, in parts of the mean's length, in each component.
MEAN_ERRORS = np.arange(0, 0.41, 0.02)


def alone(law, p, at):
    """What the hours of a station that was left out say of how it differs from the law: for each size of the
    mean's error the factor's logarithm of greatest likelihood, and minus the logarithm of that likelihood."""
    mu, mv, s1, s2, rho = moments(law, p, at)
    a, b = p["field"][at].real - mu, p["field"][at].imag - mv

    def loss(log, error):
        factor, added = np.exp(2 * log), error**2 * (mu**2 + mv**2)
        aa, bb, ab = factor * s1**2 + added, factor * s2**2 + added, factor * rho * s1 * s2
        det = aa * bb - ab**2
        square = (bb * a**2 - 2 * ab * a * b + aa * b**2) / det
        return np.mean(0.5 * (FREEDOM + 2) * np.log1p(square / FREEDOM) + 0.5 * np.log(det))

    best = [minimize_scalar(loss, bounds=(-1.5, 1.5), args=(e,), method="bounded") for e in MEAN_ERRORS]
    return np.array([one.x for one in best]), np.array([one.fun for one in best])


def new_site(left_out):
    """How a place differs where no station stood, from stations left out, each of the same weight: mean and
    spread of the factor's logarithm, and the size of the mean's error, of greatest likelihood together."""
    logs, losses = (np.array(part) for part in zip(*left_out))
    fine = np.linspace(0, MEAN_ERRORS[-1], 401)
    error = fine[np.argmin(CubicSpline(MEAN_ERRORS, losses.sum(0))(fine))]
    logs = np.array([np.interp(error, MEAN_ERRORS, of) for of in logs])
    # One more place differs from the mean of these as one of them does, and the mean is uncertain too.
    return logs.mean(), logs.std(ddof=1) * np.sqrt(1 + 1 / len(logs)), error


def scores(law, p, at, site, members=200):
    """Coverage of the 95 and 50 % regions, CRPS of the length, by draws as the library makes them.

    `site` is the mean of the logarithm of the site's factor and its spread from member to member, and the
    size of the mean's error (one for all hours here: that it turns with the clock changes no single hour)."""
    rng = np.random.default_rng(1)
    factor = np.exp(site[0] + site[1] * rng.standard_normal((members, 1)))
    along, across = site[2] * np.random.default_rng(2).standard_normal((2, members, 1))
    sums = []
    for part in np.array_split(at, max(1, len(at) // 20000)):
        mu, mv, s1, s2, rho = moments(law, p, part)
        z = rng.standard_normal((2, members, len(part)))
        z *= factor * np.exp(SIZE_SPREAD * rng.standard_normal((members, len(part))) + SIZE_MEAN)
        u, v = s1 * z[0], s2 * (rho * z[0] + np.sqrt(1 - rho * rho) * z[1])
        u, v = u + mu + along * mu - across * mv, v + mv + along * mv + across * mu
        a, b = u - u.mean(0), v - v.mean(0)
        A, B, D = (a * a).mean(0), (a * b).mean(0), (b * b).mean(0)
        far = lambda a, b: (D * a * a - 2 * B * a * b + A * b * b) / (A * D - B * B)
        radii = np.sort(far(a, b), 0)
        own = far(p["field"][part].real - u.mean(0), p["field"][part].imag - v.mean(0))
        length = np.sort(np.hypot(u, v), 0)
        seen = np.abs(p["field"][part])
        i = np.arange(1, members + 1)[:, None]
        crps = np.abs(length - seen).mean(0) - ((2 * i - members - 1) * length).sum(0) / (members * (members - 1))
        inside = [own <= radii[int(np.ceil(s * (members + 1))) - 1] for s in (0.95, 0.5)]
        sums.append(np.stack([inside[0], inside[1], crps, seen, length.mean(0), p["kp_class"][part]], 1))
    return np.concatenate(sums)


LAGS = [1, 2, 3, 4, 6, 9, 12, 18, 24, 36, 48, 72]


def hourly_variance(memory):
    """Variance of the hourly mean of a unit process of correlation exp(-t / memory)."""
    a = 1 / memory
    return 2 / a**2 * (a - 1 + np.exp(-a))


def hourly_correlation(memory, lag):
    """Covariance of hourly means `lag` hours apart over their variance."""
    a = 1 / memory
    return (1 - np.exp(-a)) ** 2 / (2 * (a - 1 + np.exp(-a))) * np.exp(-(lag - 1) * a)


def memories(law, stations, trusted):
    """Shares and memories of the scatter's three parts, from the correlation of whitened residuals."""
    seen = []
    amplitude = []
    for p in stations:
        at = np.where(trusted(p))[0]
        e1, e2 = whitened(law, p, at)
        hour = p["hour"][at] - p["hour"][at].min()
        line = np.full(hour.max() + 1, np.nan, complex)
        heavy = np.hypot(e1, e2)
        line[hour] = (e1 + 1j * e2) * np.minimum(1, 4 / heavy)
        line -= np.nanmean(line)
        size = np.nanmean(np.abs(line) ** 2)
        seen.append([np.nanmean((line[lag:] * np.conj(line[:-lag])).real) / size for lag in LAGS])
        logs = np.full(hour.max() + 1, np.nan)
        logs[hour] = np.log(heavy**2 + 1e-3)
        logs -= np.nanmean(logs)
        amplitude.append([np.nanmean(logs[lag:] * logs[:-lag]) / np.nanmean(logs**2) for lag in LAGS])
    seen, amplitude = np.mean(seen, 0), np.mean(amplitude, 0)
    lags = np.array(LAGS)

    def model(x):
        fast, slow, days = 1 - x[0] - x[1], x[0], x[1]
        return (
            fast * hourly_correlation(x[2], lags)
            + slow * np.exp(-lags / x[3])
            # What stands still on the Earth turns once a day in the frame of the Sun.
            + days * np.exp(-lags / x[4]) * np.cos(2 * np.pi * lags / 24)
        )

    weight = np.array([1, 1, 1, 1, 1, 0.7, 0.7, 0.7, 0.7, 0.5, 0.5, 0.5])
    done = least_squares(
        lambda x: weight * (model(x) - seen), [0.2, 0.2, 1.2, 12, 120],
        bounds=([0.05, 0.05, 0.3, 10, 48], [0.5, 0.4, 3, 16, 400]),
    )
    print("correlation seen ", seen.round(3), "\n            model", model(done.x).round(3))
    print("correlation of the logarithm of size", amplitude.round(3))
    slow, days, *memory = done.x
    return dict(share_fast=1 - slow - days, share_slow=slow, share_days=days,
                memory_fast_h=memory[0], memory_slow_h=memory[1], memory_days_h=memory[2])


def main():
    warnings.filterwarnings("ignore")
    stations = [station(code) for code in PLACES]
    everything = lambda p: np.ones(len(p["hour"]), bool)
    first = fit(stations, everything, 11, 150)
    # Years whose residuals are far larger than all others' have a wrong clock, axis or baseline.
    for p in stations:
        e1, e2 = whitened(first, p, np.arange(len(p["hour"])))
        size = pd.Series(e1**2 + e2**2).groupby(p["year"]).median()
        p["left_out"] = [int(y) for y in size.index[size > 2.5]]
        print(p["code"], "years left out:", p["left_out"])
    trusted = lambda p: ~np.isin(p["year"], p["left_out"])
    trained = lambda p: trusted(p) & (p["year"] % 4 == 0)
    judged = lambda p: trusted(p) & (p["year"] % 4 == 2)
    rows = []

    def judge(what, law, p, wanted, site):
        table = scores(law, p, np.where(wanted(p))[0][::3], site)
        for kp, part in [("all", table)] + [(str(k), table[table[:, 5] == k]) for k in range(9)]:
            if len(part) >= 50:
                c95, c50, crps, seen, told, _ = part.mean(0)
                rows.append([what, p["code"], kp, len(part), c95, c50, crps, seen, told])
        c95, c50, crps, *_ = table.mean(0)
        print(f"  {what:>18} {p['code']} 95 % {c95:.3f} 50 % {c50:.3f} CRPS {crps:.2f} nT", flush=True)

    def fits(wanted, strides, steps):
        """The law of all stations and of all but one, each with the factors of the stations' sites."""
        laws = {"all": fit(stations, wanted, strides[0], steps[0])}
        for p in stations:
            laws[f"without_{p['code']}"] = fit([q for q in stations if q is not p], wanted, strides[1], steps[1])
        at = {p["code"]: np.where(wanted(p))[0] for p in stations}
        known = {
            name: {
                p["code"]: np.nan if name.endswith(p["code"]) else log_site_factor(law, p, at[p["code"]])
                for p in stations
            }
            for name, law in laws.items()
        }
        print("known sites:", {c: round(v, 3) for c, v in known["all"].items()}, flush=True)
        return laws, known

    laws, known = fits(trained, (3, 5), (400, 250))
    # A station that is left out is a place where no station stood: what that means it learns from the
    # others, each left out in its turn, in years that were left out too.
    left_out = {
        p["code"]: alone(laws[f"without_{p['code']}"], p, np.where(judged(p))[0][::5]) for p in stations
    }
    for code, (logs, losses) in left_out.items():
        best = losses.argmin()
        print(f"{code} left out: log factor {logs[0]:.3f}; {logs[best]:.3f} with the mean's error",
              f"of {MEAN_ERRORS[best]:.2f}, which gains {losses[0] - losses[best]:.4f} an hour", flush=True)
    new = {
        name: new_site([found for code, found in left_out.items() if not name.endswith(code)]) for name in laws
    }
    print("new site:", {name: np.round(found, 3) for name, found in new.items()}, flush=True)
    for p in stations:
        judge("other years", laws["all"], p, judged, (known["all"][p["code"]], 0.0, 0.0))
    for p in stations:
        name = f"without_{p['code']}"
        judge("station left out", laws[name], p, judged, new[name])
    columns = "judged,station,kp,hours,coverage_95,coverage_50,crps_nt,recorded_mean_nt,forecast_mean_nt"
    pd.DataFrame(rows, columns=columns.split(",")).to_csv(HERE / "cross_validation.csv", index=False, float_format="%.4g")

    laws, known = fits(trusted, (3, 4), (600, 400))
    timing = memories(laws["all"], stations, trusted)
    print(timing)
    names = ["mean_toward_sun", "mean_clockwise", "log_sigma_toward_sun", "log_sigma_clockwise", "correlation"]
    with open(HERE / "learnt_response.csv", "w") as out:
        out.write("part,index," + ",".join(laws) + "\n")
        for part, name in enumerate(names):
            for index in range(len(laws["all"][part])):
                out.write(f"{name},{index}," + ",".join(f"{law[part][index]:.6g}" for law in laws.values()) + "\n")
        for index, code in enumerate(PLACES):
            out.write(f"site_log_factor,{index}," + ",".join(f"{known[law][code]:.4g}" for law in laws) + "\n")
        for index, name in enumerate(["new_site_log_mean", "new_site_log_spread", "new_site_mean_error"]):
            out.write(f"{name},0," + ",".join(f"{new[law][index]:.4g}" for law in laws) + "\n")
        out.write("farthest,0," + ",".join(f"{law[-1]:.4g}" for law in laws.values()) + "\n")
        for name, value in timing.items():
            out.write(f"{name},0," + ",".join([f"{value:.4g}"] * len(laws)) + "\n")


if __name__ == "__main__":
    sys.exit(main())
