#pragma once

#include <span>

#include "alarms/annunciation.hpp"
#include "alarms/time.hpp"

namespace oxherd::alarms {

/// One alarm as horns and beacons know it.
struct Announced {
  State state = State::normal;
  Priority priority = Priority::high;
  bool sounding = false; ///< as sounds() says: silencing ends it
};

/// How much a state waits for a person: 0 the most, 5 nothing to do. Unacknowledged comes before everything else, what
/// nobody has seen before what somebody has, and what is suppressed last of those that are not normal.
[[nodiscard]] int urgency(State state);
/// The one that a person is to see first: by urgency, then by priority. A normal one when there is none.
[[nodiscard]] Announced most_urgent(std::span<const Announced> alarms);

/// What a beacon shows. Steady and slow are for what has been seen or has gone; fast asks for a person.
enum class Light { off, slow_flash, steady, fast_flash };
/// What a horn does.
enum class Sound { off, pulses, continuous };

/// @source ISA-18.1 practice: unacknowledged sounds and flashes fast, acknowledged is steady, returned but never seen
///         flashes slowly and silently, and what is suppressed shows nothing
[[nodiscard]] Light light_of(State state);
/// Of the gravest alarm.
[[nodiscard]] Light light_of(std::span<const Announced> alarms);
/// Of the alarms that sound, the one of the highest priority: continuous when critical, pulses otherwise (proposal of
/// the project). One that is silenced leaves the others to sound.
[[nodiscard]] Sound sound_of(std::span<const Announced> alarms);

/// Patterns on the clock: every edge lies at a multiple of half a second, so that all horns and beacons of a site keep
/// step and a beat of half a second or a part of it meets each edge. Periods are proposals of the project.
[[nodiscard]] bool is_on(Light light, Monotonic now); ///< fast: 0.5 s on, 0.5 s off; slow: 1.5 s on, 1.5 s off
[[nodiscard]] bool is_on(Sound sound, Monotonic now); ///< pulses: 0.5 s on, 0.5 s off

} // namespace oxherd::alarms
