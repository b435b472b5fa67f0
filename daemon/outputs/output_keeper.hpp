#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/bus/output_write.hpp"
#include "daemon/outputs/confirmation.hpp"
#include "daemon/outputs/latency.hpp"
#include "daemon/outputs/proof_test.hpp"
#include "daemon/room/site.hpp"

namespace oxherd::daemon {

/// One output as `status` shows it.
struct OutputHealth {
  std::string name, bus, kind;
  std::vector<std::string> rooms;
  bool written = false;          ///< the device accepted the last write
  std::optional<bool> confirmed; ///< and holds what it was told; false: it is lost; empty: not known yet
  std::string trouble;           ///< why not
  Latency latency;
  bool provable = false;
  std::optional<std::chrono::days> prove_every{};
  std::string proof_by;       ///< who is proving it now; empty: nobody
  bool proof_driving = false; ///< it warns for that; else the person's word is awaited
};

/// Decides what every output should show and when it must be written: at once when its value changes, and again every
/// period, so that the module's own communication time-out can tell a living daemon from a dead one. Keeps what the
/// devices answered. Pure.
class OutputKeeper {
public:
  explicit OutputKeeper(const config::Settings& settings);

  /// Takes over, over a reload, what is in doubt of outputs that are the same as before: settings that are read again
  /// and again would otherwise begin the time anew after which one counts as lost.
  void continue_from(const OutputKeeper& before);

  struct Write {
    std::string bus;
    OutputWrite what;
  };
  /// @param decided  when what the site says now was decided
  [[nodiscard]] std::vector<Write> due(const Site& site, Monotonic now, std::chrono::steady_clock::time_point decided);
  /// Every alarm relay to trip, every actuator to rest: for an orderly stop, after which nobody monitors.
  [[nodiscard]] std::vector<Write> trip_all(const Site& site, std::chrono::steady_clock::time_point decided) const;
  void written(const WriteResult& result, Monotonic now);

  /// The output of that name.
  [[nodiscard]] std::optional<std::size_t> find(const std::string& name) const;
  [[nodiscard]] const config::Output& settings(std::size_t output) const { return outputs_[output].settings; }
  [[nodiscard]] const std::vector<std::size_t>& rooms(std::size_t output) const { return outputs_[output].rooms; }

  /// Drives an output to warn for a time. Refused: nothing to see, a test that runs, a time too short or too long, and
  /// while it warns of a real alarm already.
  [[nodiscard]] tl::expected<ProofNote, std::string> begin_proof(std::size_t output, const std::string& by,
                                                                 Monotonic duration, const Site& site, Monotonic now);
  /// What a person saw of it. Refused: no test, and "worked" while something speaks against it.
  [[nodiscard]] tl::expected<ProofNote, std::string>
  answer_proof(std::size_t output, bool worked, const std::string& by, const std::string& comment, Monotonic now);
  /// Tests that ended without an answer: nobody gave one in time, or a real alarm took the output over.
  [[nodiscard]] std::vector<ProofNote> end_proofs(const Site& site, Monotonic now);

  /// Ends every test for a reload, which begins with all outputs anew.
  [[nodiscard]] std::vector<ProofNote> abandon_proofs();

  /// By room: what is known of the outputs that it answers for.
  [[nodiscard]] std::vector<OutputsFound> found(Monotonic now) const;
  [[nodiscard]] std::vector<OutputHealth> health(Monotonic now) const;

private:
  struct Planned {
    config::Output settings;
    config::OutputKind by_pattern;
    std::vector<std::size_t> rooms; ///< served; the first answers for it
    std::chrono::milliseconds timeout{500};
    Confirmation confirmation;
    std::optional<OutputValue> last{};
    std::optional<OutputValue> meant{}; ///< by it, by_pattern()
    bool is_news = false;               ///< that this is meant; a step of the same pattern is none
    Monotonic last_at{0};
    bool accepted = false;
    std::string trouble = "not written yet";
    Latency latency{};
    std::optional<ProofTest> proof{};
  };
  [[nodiscard]] Write write_of(std::size_t i, OutputValue value) const;

  std::size_t room_count_;
  std::vector<Planned> outputs_;
};

/// A lost output in a sentence: its name, its device, what is wrong and what comes of it.
[[nodiscard]] std::string lost_text(const config::Output& output, const std::string& trouble);

} // namespace oxherd::daemon
