// The calibration desk of the stand-in: a signal that is level from the third look on.
const uncertain = (value, u) => ({ value, u });
const refused = (status, detail) => ({
  status,
  type: "application/problem+json",
  body: { type: "about:blank", title: "Refused", status, detail },
});

export class CalibrationDesk {
  open = null;
  withdrawn = new Set();
  recorded = [];
  step(request, author) {
    const answer = (body) => ({ status: 200, type: "application/json", body });
    if (request.step === "withdraw") {
      if (!request.reason) return refused(409, "a withdrawal needs a reason");
      this.withdrawn.add(request.number);
      return answer({ record: { number: 9, act: "withdrawal", points: [] }, stored: true });
    }
    if (request.step === "begin") {
      this.open = { ...request, author, looks: 0, points: [] };
      return answer(this.look());
    }
    if (!this.open) return refused(404, `no calibration of ${request.room}/${request.sensor} is under way: begin one`);
    if (request.step === "look") return answer(this.look());
    if (request.step === "another") {
      this.open.looks = 0;
      return answer(this.look());
    }
    if (request.step === "cancel") {
      this.open = null;
      return answer({ cancelled: true });
    }
    if (request.step === "take") {
      if (this.open.looks < 3) return refused(409, "the signal is not level yet");
      this.open.points.push(this.point(request));
      return answer(this.look());
    }
    if (request.step === "enter") {
      const { signal, temperature, humidity, pressure, performed, gas } = request;
      if (!signal || !temperature || !(humidity || gas !== "fresh-air") || !pressure || !performed)
        return refused(
          409,
          "a point entered by hand needs signal, temperature, humidity, pressure and the time it was taken",
        );
      this.open.points.push(this.point(request));
      return answer(this.look());
    }
    if (request.step !== "finish") return refused(400, "no such step");
    const judged = this.judged(request);
    if (!request.dry_run) {
      if (!request.reason) return refused(409, "the cell reads 0.4 % higher than its neighbours (or give a reason)");
      judged.record.number = 4 + this.recorded.length;
      this.recorded.push(judged.record);
      this.open = null;
      return answer({ record: judged.record, stored: true });
    }
    return answer(judged);
  }
  /** Record 3 of a year ago, and what was recorded since; a replaced or withdrawn one says by what. */
  records(cell) {
    const first = {
      ...this.record({ number: 3, act: "adjustment", author: "R. Okafor", cell }),
      performed: cell.in_force.performed ?? new Date().toISOString(),
      points: [this.point({ gas: "fresh-air" })],
    };
    const mine = this.recorded.filter((one) => one.room === cell.room && one.sensor === cell.sensor);
    return [first, ...mine].map((record) => {
      const by = mine.find((one) => one.supersedes === record.number);
      if (this.withdrawn.has(record.number)) return { standing: "withdrawn", by: 9, record };
      return { standing: by ? "superseded" : "stands", by: by?.number ?? null, record };
    });
  }
  record({ number, act, author, reason = "", supersedes = null, cell, points = [], warnings = [] }) {
    const now = new Date().toISOString();
    return {
      version: 1,
      number,
      act,
      performed: now,
      recorded: now,
      room: cell.room,
      sensor: cell.sensor,
      serial: cell.serial ?? "LK-0007",
      model: "concentration",
      author,
      reason,
      points,
      calibration: null,
      characteristic: {
        sensitivity: 1.4436e-3,
        u_sensitivity: 6.9e-6,
        sensitivity_unit: "V/(mol/m3)",
        zero_V: uncertain(0.0004, 0.00005),
      },
      supersedes,
      warnings,
    };
  }
  look() {
    const n = ++this.open.looks;
    const stable = n >= 3;
    return {
      act: this.open.act ?? "adjustment",
      points: this.open.points.length,
      seconds: n,
      at: new Date().toISOString(),
      signal_mv: 12.211 + 0.02 / n,
      temperature_c: 21.1,
      humidity_percent: 41,
      pressure_kpa: 97.21,
      temperature_from: "air",
      humidity_from: "air",
      pressure_from: "air",
      dry_fraction: 0.2095,
      u_dry_fraction: 0.0007,
      stable,
      window_s: Math.min(120, n * 40),
      samples: n * 40,
      window_wanted_s: 120,
      slope_percent_per_minute: 0.3 / n,
      u_slope_percent_per_minute: 0.02,
      scatter_percent: 0.05,
      seconds_left: stable ? null : 60,
      waiting_for: stable ? [] : ["the signal still falls 0.42 %/min (at most 0.1 %/min)"],
      cautions: [],
    };
  }
  /** A point of the live signal; what a request gives by hand takes its place. */
  point(given) {
    const byHand = given.signal !== undefined;
    const pair = ([value, u]) => uncertain(value, u);
    const from = (key) => (given[key] ? "typed" : "cryo-annexe/air");
    return {
      gas: {
        kind: given.gas,
        oxygen: pair(given.oxygen ?? (given.gas === "nitrogen" ? [0, 0.00005] : [0.20946, 0.00006])),
        cylinder: given.cylinder ?? "",
        certificate: given.certificate ?? "",
        expires: given.expires ?? null,
      },
      values: {
        signal_V: pair(given.signal ?? [0.012211, 0.00002]),
        gas: {
          temperature_K: pair(given.temperature ?? [294.25, 0.3]),
          humidity: pair(given.humidity ?? [0.41, 0.03]),
          humidity_temperature_K: null,
          pressure_Pa: pair(given.pressure ?? [97210, 100]),
        },
      },
      stability: {
        seconds: byHand ? 0 : 120,
        samples: byHand ? 0 : 120,
        slope_per_minute: byHand ? 0 : 0.0002,
        u_slope_per_minute: byHand ? 0 : 0.0001,
        scatter: byHand ? 0 : 0.0005,
        temperature_slope_K_per_minute: 0,
        stable: !byHand,
      },
      temperature_from: from("temperature"),
      humidity_from: from("humidity"),
      pressure_from: from("pressure"),
      as_found: uncertain(0.2101, 0.0007),
      as_left: uncertain(0.20946, 0.0005),
    };
  }
  judged({ reason = "", number = null }) {
    const { room, sensor, author, act, points } = this.open;
    const warnings = ["the certificate of the gas is not named"];
    const cell = { room, sensor };
    return {
      record: this.record({
        number: 0,
        act: act ?? "adjustment",
        author,
        reason,
        supersedes: number,
        cell,
        points,
        warnings,
      }),
      refusals: [{ text: "the cell reads 0.4 % higher than its neighbours", can_be_overridden: true }],
      warnings,
      permitted: reason !== "",
    };
  }
}
