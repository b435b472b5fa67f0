#!/usr/bin/env python3
"""A second model of an alarm, to hold the first one against.

Written from the rules, not from the program: the rules of evaluation and the table of states of IEC 62682 / ISA-18.2
practice. It has another shape on purpose. Where the program has a state machine, this keeps three facts (active, seen,
latched) and derives the state from them; where the program has phases, this keeps the moment a trip or a clearing began.

    model.py PROGRAM [--seed N] [--traces N] [--spoil]

PROGRAM prints random lives of alarms as JSON lines. Exit 1 with the first difference, or when a row of the table of
transitions never occurred. With --spoil one entry of every trace is falsified first, and each must be noticed.
"""
import argparse
import collections
import json
import math
import os
import random
import subprocess
import sys

NAMES = {
    "A": "normal",
    "B": "unacknowledged",
    "C": "acknowledged",
    "D": "returned_to_normal_unacknowledged",
    "E": "latched_unacknowledged",
    "F": "latched_acknowledged",
    "G": "shelved",
    "H": "suppressed_by_design",
    "I": "out_of_service",
}
TEN_MINUTES = 600_000
TABLE = """A-condition-B B-acknowledge-C B-returned-D B-returned-E B-returned-A C-returned-A C-returned-F
C-re_annunciation-B D-acknowledge-A D-condition-B E-acknowledge-F E-condition-B F-reset-A F-condition-B""".split()
TABLE += [f"{state}-{how}" for state in "ABCDEF" for how in ("shelve", "design_on", "remove")]
TABLE += [f"{cover}-ends-{state}" for cover in "GHI" for state in "ABEF"]


def votes_to_trip(scheme, ballots):
    """True, False, or None when nobody is left to decide. Ballots are 'y', 'n' or 'f' (faulted)."""
    working = [ballot for ballot in ballots if ballot != "f"]
    if scheme == "1oo1":
        return working[0] == "y" if working else None
    if scheme == "2oo3":
        return sum(ballot != "n" for ballot in ballots) >= 2
    if not working:
        return True
    return any(b == "y" for b in working) if scheme == "1oo2" else all(b == "y" for b in working)


class LimitCondition:
    """Which channels say what; the delays come after."""

    def __init__(self, settings):
        self.s = settings
        self.decided = [False] * int(settings["scheme"][-1])

    def restart(self, active):
        self.decided = [active] * len(self.decided)

    def place(self, channel):
        """'low' beyond the limit, 'mid' inside the deadband, 'ok' beyond the deadband, 'bad'."""
        quality, value, expanded = channel
        if quality == "bad" or value is None or expanded is None or expanded < 0:
            return "bad"
        limit, band = self.s["limit"], self.s["deadband"]
        if self.s["direction"] == "low":
            worst = value - expanded
            return "low" if worst <= limit else "ok" if worst > limit + band else "mid"
        worst = value + expanded
        return "low" if worst >= limit else "ok" if worst < limit - band else "mid"

    def look(self, step):
        """(may a trip begin, may it go on, may nothing clear)"""
        places = [self.place(channel) for channel in step["channels"]]
        for i, place in enumerate(places):
            if place in ("low", "ok"):
                self.decided[i] = place == "low"
        scheme = self.s["scheme"]

        def trip(bad_as_fault):
            now, own = [], []
            for place, decided in zip(places, self.decided):
                if place == "bad":
                    ballot = "f" if bad_as_fault else "y" if decided else "n"
                    now.append(ballot)
                    own.append(ballot)
                else:
                    now.append("y" if place == "low" else "n")
                    own.append("y" if decided else "n")
            # a channel inside its deadband keeps its decision, but somebody has to be beyond the limit now
            return votes_to_trip(scheme, now) is True or ("y" in now and votes_to_trip(scheme, own) is True)

        def unclear(bad_as_fault):
            ballots = []
            for place, decided in zip(places, self.decided):
                if place == "bad":
                    ballots.append("f" if bad_as_fault else "y" if decided else "n")
                else:
                    ballots.append("n" if place == "ok" else "y")
            return votes_to_trip(scheme, ballots) is not False

        begins = trip(True)
        return begins, begins or trip(False), unclear(True) or unclear(False)


class MonitoringCondition:
    def restart(self, active):
        pass

    def look(self, step):
        blind = not step["monitored"]
        return blind, blind, blind


class Model:
    def __init__(self, settings):
        self.s = settings
        self.condition = LimitCondition(settings) if settings["rule"] == "limit" else MonitoringCondition()
        self.active = self.seen = self.latched = self.owed = False
        self.trip_began = self.clearing_began = None
        self.shelved = self.out = None  # until when
        self.design = False
        self.quiet_until = None
        self.since = settings["start"]
        self.rows = collections.Counter()

    # --- what is shown

    def under(self):
        if self.active:
            return "C" if self.seen else "B"
        if self.latched:
            return "F" if self.seen else "E"
        return "D" if self.owed else "A"

    def covered(self):
        return self.shelved is not None or self.design or self.out is not None

    def shown(self):
        if self.out is not None:
            return "I"
        if self.shelved is not None:
            return "G"
        return "H" if self.design else self.under()

    def sounds(self, now):
        return self.shown() in "BE" and (self.quiet_until is None or now >= self.quiet_until)

    # --- the condition

    def appear(self):
        self.active, self.seen, self.latched, self.owed = True, False, False, False
        self.quiet_until = None

    def cease(self):
        self.active = False
        if self.s["latching"]:
            self.latched = True
        elif self.seen or not self.s["ack_required"]:
            self.seen = self.owed = False
        else:
            self.owed = True

    def decide(self, step):
        """'condition', 'returned' or nothing, by the clock."""
        now = step["now"]
        begins, goes_on, stands = self.condition.look(step)
        if not self.active:
            if self.trip_began is None and begins:
                self.trip_began = now
            if not goes_on:
                self.trip_began = None
            if self.trip_began is not None and now - self.trip_began >= self.s["on"]:
                self.trip_began = self.clearing_began = None
                self.appear()
                return "condition"
        else:
            if stands:
                self.clearing_began = None
            elif self.clearing_began is None:
                self.clearing_began = now
            if self.clearing_began is not None and now - self.clearing_began >= self.s["off"]:
                self.trip_began = self.clearing_began = None
                self.cease()
                return "returned"
        return None

    # --- suppression

    def uncover(self, lift):
        before, was_covered = self.shown(), self.covered()
        lift()
        if was_covered and not self.covered():
            if self.active:
                self.seen = False
            elif not self.latched:
                self.seen = self.owed = False
            self.quiet_until = None
            self.rows[f"{before}-ends-{self.shown()}"] += 1

    # --- one step of a trace; returns (accepted, transitions, beneath)

    def take(self, step):
        before = self.shown()
        accepted, transitions, beneath = getattr(self, "do_" + step["do"])(step)
        if self.shown() != before and step["do"] != "restart":
            self.since = step["now"]
        return accepted, transitions, beneath

    def do_evaluate(self, step):
        now, transitions, beneath = step["now"], [], []

        def journal(shown, under, cause):
            if self.shown() != shown:
                transitions.append([NAMES[shown], NAMES[self.shown()], cause])
                self.rows[f"{shown}-{cause}-{self.shown()}"] += 1
                self.since = now
            elif self.under() != under:
                beneath.append([NAMES[under], NAMES[self.under()], cause])

        shown, under = self.shown(), self.under()
        cause = self.decide(step)
        if cause:
            journal(shown, under, cause)
        shown, under = self.shown(), self.under()

        def lift():
            if self.shelved is not None and now >= self.shelved:
                self.shelved = None
            if self.out is not None and now >= self.out:
                self.out = None

        self.uncover(lift)
        journal(shown, under, "timer")
        shown, under = self.shown(), self.under()
        if self.quiet_until is not None and now >= self.quiet_until:
            self.quiet_until = None
        if shown == "C" and now - self.since >= self.s["reannounce"]:
            self.appear()
            journal(shown, under, "re_annunciation")
        return True, transitions, beneath

    def do_acknowledge(self, step):
        shown = self.shown()
        if shown not in "BDE":
            return False, [], []
        self.quiet_until = None
        self.owed = False
        self.seen = shown != "D"
        self.rows[f"{shown}-acknowledge-{self.shown()}"] += 1
        return True, [], []

    def do_reset(self, step):
        if self.shown() != "F":
            return False, [], []
        self.latched = self.seen = False
        self.rows["F-reset-A"] += 1
        return True, [], []

    def do_silence(self, step):
        if not self.sounds(step["now"]):
            return False, [], []
        self.quiet_until = step["now"] + min(self.s["silence"], TEN_MINUTES)
        return True, [], []

    def in_order(self, step, at_most):
        return step["reason"].strip() != "" and 0 < step["duration"] <= at_most

    def do_shelve(self, step):
        if self.s["safety"] or self.shelved is not None or not self.in_order(step, self.s["shelve_at_most"]):
            return False, [], []
        self.rows[f"{self.shown()}-shelve"] += 1
        self.shelved = step["now"] + step["duration"]
        return True, [], []

    def do_unshelve(self, step):
        if self.shelved is None:
            return False, [], []
        self.uncover(lambda: setattr(self, "shelved", None))
        return True, [], []

    def do_remove(self, step):
        if self.out is not None or not self.in_order(step, self.s["service_at_most"]):
            return False, [], []
        self.rows[f"{self.shown()}-remove"] += 1
        self.out = step["now"] + step["duration"]
        return True, [], []

    def do_return(self, step):
        if self.out is None:
            return False, [], []
        self.uncover(lambda: setattr(self, "out", None))
        return True, [], []

    def do_design_on(self, step):
        if self.s["safety"]:
            return False, [], []
        self.rows[f"{self.shown()}-design_on"] += 1
        self.design = True
        return True, [], []

    def do_design_off(self, step):
        self.uncover(lambda: setattr(self, "design", False))
        return True, [], []

    def do_restart(self, step):
        """Nothing is acknowledged and nothing cleared. Delays and silence are gone; design logic decides anew."""
        now = step["now"]
        shift = now - step["stopped"] - step["away"]  # the clock of the program starts anew
        self.since += shift
        if self.design and self.active:
            self.seen = False
        self.design = False
        for name, at_most in (("shelved", "shelve_at_most"), ("out", "service_at_most")):
            if getattr(self, name) is not None:
                setattr(self, name, now if step["unknown"] else min(getattr(self, name) + shift, now + self.s[at_most]))
        self.trip_began = self.clearing_began = self.quiet_until = None
        self.condition.restart(self.active)
        return True, [], []


def differences(trace, rows):
    """Compares one trace; yields (number of the step, what, model, program)."""
    model = Model(trace)
    for number, step in enumerate(trace["steps"]):
        now = step["now"]
        accepted, transitions, beneath = model.take(step)
        expected = {
            "accepted": accepted,
            "shown": NAMES[model.shown()],
            "under": NAMES[model.under()],
            "present": model.active,
            "sounds": model.sounds(now),
            "relay": model.under() in "BCEF",
            "since": model.since,
        }
        if step["do"] == "evaluate":
            expected.update(transitions=transitions, beneath=beneath)
        for what, value in expected.items():
            if step[what] != value:
                yield number, what, value, step[what]
                return
    rows.update(model.rows)


def spoil(trace, dice):
    """Falsifies one entry of one step."""
    step = dice.choice(trace["steps"])
    what = dice.choice([k for k in ("accepted", "shown", "under", "present", "sounds", "relay", "since", "transitions")
                        if k in step])
    if isinstance(step[what], bool):
        step[what] = not step[what]
    elif what == "since":
        step[what] += 1
    elif what == "transitions":
        step[what] = step[what] + [["normal", "normal", "timer"]]
    else:
        step[what] = dice.choice([name for name in NAMES.values() if name != step[what]])


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--seed", type=int, default=int(os.environ.get("OXHERD_SEED", "1")))
    parser.add_argument("--traces", type=int, default=4000)
    parser.add_argument("--spoil", action="store_true")
    args = parser.parse_args()
    print(f"seed {args.seed} (set OXHERD_SEED for another)")

    run = subprocess.run([args.program, str(args.seed), str(args.traces)], stdout=subprocess.PIPE, check=True, text=True)
    traces = [json.loads(line) for line in run.stdout.splitlines()]
    if len(traces) != args.traces:
        sys.exit(f"{args.traces} traces were asked for, {len(traces)} came")
    dice, rows, noticed = random.Random(args.seed), collections.Counter(), 0
    for index, trace in enumerate(traces):
        if args.spoil:
            spoil(trace, dice)
        for number, what, model, program in differences(trace, rows):
            noticed += 1
            if not args.spoil:
                head = {key: value for key, value in trace.items() if key != "steps"}
                print(json.dumps(head))
                for step in trace["steps"][max(0, number - 8):number + 1]:
                    print(json.dumps(step))
                sys.exit(f"trace {index}, step {number}: {what} is {model} by the model, {program} by the program")
    steps = sum(len(trace["steps"]) for trace in traces)
    if args.spoil:
        if noticed != len(traces):
            sys.exit(f"{len(traces)} traces were falsified, only {noticed} noticed")
        print(f"all {noticed} falsified traces noticed")
        return
    missing = [row for row in TABLE if rows[row] == 0]
    if missing:
        sys.exit("never occurred, so nothing is known of: " + ", ".join(missing))
    print(f"{len(traces)} traces, {steps} steps: no difference; every row of the table occurred, "
          f"the rarest {min(rows[row] for row in TABLE)} times")


if __name__ == "__main__":
    main()
