import assert from "node:assert/strict";
import { test } from "node:test";
import * as format from "../../daemon/web/page/format.js";

const plain = (text) => text.replaceAll("\u202f", " ");

test("a value is rounded to the last digit that its uncertainty allows", () => {
  for (const [value, expanded, shown] of [
    [19.2912, 0.1318, "19.29 ± 0.13"],
    [2.0134, 0.0213, "2.013 ± 0.021"],
    [19.29, 1.27, "19.3 ± 1.3"],
    [19.29, 12.7, "19 ± 13"],
    [20.9512, 0.0996, "20.95 ± 0.10"],
    [20.95, 0.0994, "20.950 ± 0.099"],
    [1234, 127, "1230 ± 130"],
    [-0.001, 0.13, "0.00 ± 0.13"],
  ]) {
    const texts = format.rounded(value, expanded);
    assert.equal(`${texts.value} ± ${texts.expanded}`, shown);
  }
});

test("oxygen is shown in percent with its expanded uncertainty and its coverage factor", () => {
  assert.equal(plain(format.oxygen(0.1929, 0.0013, 2)), "19.29 % ± 0.13 % (k = 2)");
});
test("an oxygen value without an uncertainty says that it is unknown", () => {
  assert.equal(plain(format.oxygen(0.1929, null, 2)), "19.29 % ± unknown");
});
test("no oxygen value is no number, and neither is NaN", () => {
  for (const nothing of [null, undefined, NaN, Infinity]) assert.equal(format.oxygen(nothing, 0.001, 2), "no value");
});
test("a coverage factor that is not whole keeps its decimals", () => {
  assert.equal(plain(format.oxygen(0.2, 0.001, 1.96)), "20.00 % ± 0.10 % (k = 1.96)");
});

test("carbon dioxide is shown in ppm, and from one percent on in percent", () => {
  assert.equal(plain(format.carbonDioxide(0.000779)), "779 ppm");
  assert.equal(plain(format.carbonDioxide(0.0123)), "1.23 %");
  assert.equal(format.carbonDioxide(null), "no value");
});

const judged = (value, unit, quantity, expanded = null) => ({ value, limit: value, expanded, unit, quantity });
test("an alarm's value is shown in the unit of what it judges, whatever the alarm is called", () => {
  assert.equal(plain(format.alarmValue(judged(0.1929, "/", "oxygen", 0.0013))), "19.29 % ± 0.13 %");
  assert.equal(plain(format.alarmValue(judged(18574, "Pa", "oxygen-partial-pressure", 120))), "18.57 kPa ± 0.12 kPa");
  assert.equal(plain(format.alarmValue(judged(0.0051, "/", "carbon-dioxide"))), "5100 ppm");
  assert.equal(plain(format.alarmValue(judged(0.0051, "/", "oxygen", 0.0002))), "0.510 % ± 0.020 %");
  assert.equal(plain(format.alarmValue(judged(0.0051, "/", "carbon-dioxide", 0.00005))), "5100 ppm ± 50 ppm");
  assert.equal(format.alarmValue(judged(null, "/", "monitoring")), "no value");
});
test("a rate is shown by the minute, and a time that is left in minutes", () => {
  assert.equal(
    plain(format.alarmValue(judged(-0.0031, "1/min", "oxygen", 0.0004))),
    "-0.310 % per minute ± 0.040 % per minute",
  );
  assert.equal(plain(format.alarmLimit(judged(0.0005, "1/min", "carbon-dioxide"))), "500 ppm per minute");
  assert.equal(plain(format.alarmLimit(judged(250, "Pa/min", "oxygen-partial-pressure"))), "0.25 kPa per minute");
  assert.equal(plain(format.alarmLimit(judged(15, "min", "oxygen"))), "15 min");
});
test("a limit is shown as it was set, without digits of the page's own", () => {
  assert.equal(plain(format.alarmLimit(judged(0.195, "/", "oxygen"))), "19.5 %");
  assert.equal(plain(format.alarmLimit(judged(0.18, "/", "oxygen"))), "18 %");
  assert.equal(plain(format.alarmLimit(judged(0.005, "/", "carbon-dioxide"))), "5000 ppm");
  assert.equal(plain(format.alarmLimit(judged(18000, "Pa", "oxygen-partial-pressure"))), "18 kPa");
  assert.equal(format.alarmLimit(judged(null, "/", "monitoring")), "");
});

test("significant digits are never written in powers of ten", () => {
  assert.equal(format.significant(0.0000123, 2), "0.000012");
  assert.equal(format.significant(123456, 2), "120000");
  assert.equal(format.significant(0, 3), "0");
});
test("a duration has at most two units", () => {
  for (const [seconds, words] of [
    [0, "0 s"],
    [0.44, "0.4 s"],
    [9, "9 s"],
    [119, "119 s"],
    [150, "2 min"],
    [7500, "2 h 5 min"],
    [7200, "2 h"],
    [360000, "4 d 4 h"],
  ])
    assert.equal(format.duration(seconds), words);
  assert.equal(format.duration(null), "unknown");
});
test("a factor says what it does in percent, with a true minus sign", () => {
  assert.equal(plain(format.factor(1.0266)), "× 1.0266 (+2.66 %)");
  assert.equal(plain(format.factor(0.9993)), "× 0.9993 (\u22120.07 %)");
});
test("trends are scaled into the unit of their axis, and unknown values stay unknown", () => {
  assert.equal(format.quantities.dry_fraction.scaled(0.2), 20);
  assert.equal(format.quantities.co2_fraction.scaled(null), null);
});

test("a size is told in three digits", () => {
  const text = (bytes) => format.size(bytes).replace(format.NARROW, " ");
  assert.equal(text(0), "0 B");
  assert.equal(text(999), "999 B");
  assert.equal(text(1000), "1.00 kB");
  assert.equal(text(3.21e9), "3.21 GB");
  assert.equal(text(99.94e6), "99.9 MB");
  assert.equal(text(123.4e6), "123 MB");
  assert.equal(text(999.7e6), "1.00 GB");
  assert.equal(text(5e15), "5000 TB");
});
