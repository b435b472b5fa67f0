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
  step(request, author) {
    const answer = (body) => ({ status: 200, type: "application/json", body });
    if (request.step === "withdraw") {
      if (!request.reason) return refused(409, "a withdrawal needs a reason");
      this.withdrawn.add(request.number);
      return answer({
        record: { number: 9, act: "withdrawal", points: [] },
        refusals: [],
        warnings: [],
        permitted: true,
      });
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
    if (request.step !== "finish") return refused(400, "no such step");
    const judged = this.judged(request);
    if (!request.dry_run) {
      if (!request.reason) return refused(409, "the cell reads 0.4 % higher than its neighbours (or give a reason)");
      judged.record.number = 4;
      this.open = null;
    }
    return answer(judged);
  }
  records(cell) {
    return [3].map((number) => ({
      standing: this.withdrawn.has(number) ? "withdrawn" : "stands",
      by: this.withdrawn.has(number) ? 9 : null,
      record: {
        number,
        act: "adjustment",
        performed: cell.in_force.performed ?? new Date().toISOString(),
        author: "R. Okafor",
        reason: "",
        points: [this.point({ gas: "fresh-air" })],
      },
    }));
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
  point({ gas, certificate = "" }) {
    return {
      gas: { kind: gas, oxygen: uncertain(0.20946, 0.00006), cylinder: "", certificate, expires: null },
      as_found: uncertain(0.2101, 0.0007),
      as_left: uncertain(0.20946, 0.0005),
    };
  }
  judged({ reason = "" }) {
    return {
      record: {
        number: 0,
        act: "adjustment",
        room: this.open.room,
        sensor: this.open.sensor,
        author: this.open.author,
        reason,
        points: this.open.points,
      },
      refusals: [{ text: "the cell reads 0.4 % higher than its neighbours", can_be_overridden: true }],
      warnings: ["the certificate of the gas is not named"],
      permitted: reason !== "",
    };
  }
}
