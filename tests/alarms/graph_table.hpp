#pragma once
// The table of legal transitions of IEC 62682 / ISA-18.2 practice, for what is shown of one kind of alarm.
//   A normal, B unacknowledged, C acknowledged, D returned_to_normal_unacknowledged, E latched_unacknowledged,
//   F latched_acknowledged, G shelved, H suppressed_by_design, I out_of_service
#include <set>
#include <string>

#include "alarms/annunciation.hpp"

namespace oxherd::alarms_graph_test {

/// The states that lie beneath suppressions.
inline std::string lower_states(const alarms::Annunciation& a) {
  return a.latching ? "ABCEF" : a.acknowledge_required ? "ABCD" : "ABC";
}
/// The suppressions that are permitted, the one that is shown before the others last.
inline std::string covers(const alarms::Annunciation& a) { return a.safety ? "I" : "HGI"; }

/// Every row as "FROM cause TO". Design suppression has the cause "design", since its logic lies outside.
inline std::set<std::string> legal_rows(const alarms::Annunciation& a) {
  std::set<std::string> rows;
  const auto add = [&rows](char from, const std::string& cause, char to) {
    rows.insert(std::string{from} + " " + cause + " " + to);
  };
  const std::string lower = lower_states(a);
  for (const char from : lower)
    if (from != 'B' && from != 'C') add(from, "condition", 'B');
  add('B', "acknowledge", 'C');
  if (lower.find('D') != std::string::npos) add('D', "acknowledge", 'A');
  if (a.latching) {
    add('E', "acknowledge", 'F');
    add('F', "reset", 'A');
  }
  for (const char* ended : {"returned", "test"}) { // a simulated condition ends like a real one
    add('B', ended, lower.size() > 3 ? lower[3] : 'A');
    add('C', ended, a.latching ? 'F' : 'A');
  }
  add('C', "re_annunciation", 'B');
  add('A', "test", 'B');
  // A real condition after a simulated one is announced as new, whoever has acknowledged the test.
  add('B', "condition", 'B');
  add('C', "condition", 'B');

  const auto begin_of = [](char cover) { return cover == 'G' ? "shelve" : cover == 'H' ? "design" : "service"; };
  std::string below = lower;
  std::string after_end = a.latching ? "ABEF" : "AB";
  for (const char cover : covers(a)) {
    for (const char from : below) add(from, begin_of(cover), cover);
    for (const char to : after_end) {
      add(cover, begin_of(cover), to); // by the same hand
      if (cover != 'H') add(cover, "timer", to);
      // Shelved once: ends with the condition, so that nothing stands and what latched stays latched.
      if (cover == 'G' && to != 'B' && !(a.latching && to == 'A'))
        for (const char* ended : {"returned", "test"}) add(cover, ended, to);
    }
    below += cover;
    after_end += cover;
  }
  return rows;
}

} // namespace oxherd::alarms_graph_test
