// The part of OutputKeeper that proves outputs.
#include <algorithm>

#include <fmt/core.h>

#include "daemon/outputs/output_keeper.hpp"
#include "daemon/outputs/wanted.hpp"

namespace oxherd::daemon {
namespace {

std::string seen_by_now(const config::Output& output) {
  if (std::holds_alternative<config::Sounder>(output.kind)) return "sounds";
  if (!std::holds_alternative<config::Beacon>(output.kind)) return "is dropped";
  return output.feedback ? "is lit steadily" : "flashes";
}

} // namespace

std::optional<std::size_t> OutputKeeper::find(const std::string& name) const {
  const auto found =
      std::find_if(outputs_.begin(), outputs_.end(), [&](const Planned& o) { return o.settings.name == name; });
  if (found == outputs_.end()) return std::nullopt;
  return static_cast<std::size_t>(found - outputs_.begin());
}

tl::expected<ProofNote, std::string> OutputKeeper::begin_proof(std::size_t output, const std::string& by,
                                                               Monotonic duration, const Site& site, Monotonic now) {
  Planned& o = outputs_[output];
  const auto refused = [](std::string why) { return tl::unexpected(std::move(why)); };
  if (!config::is_provable(o.settings.kind))
    return refused(fmt::format("an output of kind \"{}\" warns nobody by itself: there is nothing to see",
                               config::name_of_kind(o.settings.kind)));
  if (o.proof) return refused(fmt::format("a test by {} waits for its answer: give --result first", o.proof->by()));
  if (duration < proof_at_least || duration > proof_at_most)
    return refused(
        fmt::format("a test takes {} s to {} s", proof_at_least.count() / 1000, proof_at_most.count() / 1000));
  if (warns(o.settings.kind, o.rooms, site, now))
    return refused("it warns of a real alarm, which a test must not be mistaken for: look at `oxherd alarms`");
  o.proof.emplace(by, duration, now);
  return ProofNote{
      output,
      proof_begun,
      by,
      {},
      fmt::format("PROOF TEST of {}: it {} for {:.3g} s. It says nothing of the air; a real alarm ends it.",
                  o.settings.name, seen_by_now(o.settings), std::chrono::duration<double>(duration).count())};
}

tl::expected<ProofNote, std::string> OutputKeeper::answer_proof(std::size_t output, bool worked, const std::string& by,
                                                                const std::string& comment, Monotonic now) {
  Planned& o = outputs_[output];
  if (!o.proof) return tl::unexpected(std::string{"no test of it waits for an answer: begin one"});
  if (worked)
    if (auto doubt = o.proof->doubt(now); !doubt.empty()) return tl::unexpected(std::move(doubt));
  const auto edges = o.proof->edges();
  o.proof.reset();
  return ProofNote{output, worked ? proof_worked : proof_failed, by, comment,
                   fmt::format("PROOF TEST of {}: {} by the word of {}; {}.", o.settings.name,
                               worked ? "worked" : "FAILED", by, edges)};
}

std::vector<ProofNote> OutputKeeper::end_proofs(const Site& site, Monotonic now) {
  std::vector<ProofNote> notes;
  for (std::size_t i = 0; i < outputs_.size(); ++i) {
    Planned& o = outputs_[i];
    if (!o.proof) continue;
    const bool overtaken = o.proof->is_driving(now) && warns(o.settings.kind, o.rooms, site, now);
    if (!overtaken && !o.proof->is_over(now)) continue;
    notes.push_back(
        {i,
         proof_unanswered,
         o.proof->by(),
         {},
         fmt::format("PROOF TEST of {}: not proved, {}.", o.settings.name,
                     overtaken ? "a real alarm came and took the output over" : "nobody said in time what was seen")});
    o.proof.reset();
  }
  return notes;
}

std::vector<ProofNote> OutputKeeper::abandon_proofs() {
  std::vector<ProofNote> notes;
  for (std::size_t i = 0; i < outputs_.size(); ++i) {
    if (!outputs_[i].proof) continue;
    notes.push_back({i,
                     proof_unanswered,
                     outputs_[i].proof->by(),
                     {},
                     fmt::format("PROOF TEST of {}: not proved, a reload ended it.", outputs_[i].settings.name)});
    outputs_[i].proof.reset();
  }
  return notes;
}

} // namespace oxherd::daemon
