#pragma once

#include <functional>

#include "daemon/store/recorded_oxygen.hpp"

namespace oxherd::daemon {

/// What the live pipeline would have recorded for these inputs on this basis.
[[nodiscard]] OxygenOutputs form_anew(const ReadingBasis& basis, const OxygenInputs& inputs, WallTime at);

/// What is to be formed anew.
struct ReplayTask {
  store::OxygenRange range;
  std::string author, reason;
  bool dry_run = false; ///< report only
};

/// How far it is, and at the end what came of it.
struct ReplayReport {
  std::uint64_t examined = 0;
  std::uint64_t changed = 0;              ///< superseded by this run
  std::uint64_t unexplained = 0;          ///< of the examined: forming them anew on their own basis gives other bits
  double largest_change = 0.0;            ///< of the dry fraction, absolute
  std::optional<std::int64_t> derivation; ///< its number, when something was written
  double progress = 0.0;                  ///< 0 to 1
};

/// The basis that should have been used for this reading; the very one it has, when nothing changes.
using BasisFor = std::function<SharedBasis(const RecordedOxygen&)>;

/// Forms recorded readings anew and adds the results beside the old ones, which stay, with author and reason. In small
/// transactions, so that a running daemon's own writing waits for milliseconds at most. What is the same as before is
/// not written. Interrupted, it leaves the part that is done; run again, it does the rest.
/// @param told  called after each piece; false stops
[[nodiscard]] tl::expected<ReplayReport, StoreError> replay(const std::filesystem::path& state_dir,
                                                            const ReplayTask& task, const BasisFor& basis_for,
                                                            WallTime now,
                                                            const std::function<bool(const ReplayReport&)>& told);

} // namespace oxherd::daemon
