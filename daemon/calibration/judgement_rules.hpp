#pragma once

#include <string>
#include <vector>

#include "daemon/calibration/judgement.hpp"

namespace oxherd::daemon {

/// Parts of judge_calibration. Each adds what it finds.
void refuse(Judgement& judgement, std::string text); ///< for good
void refuse_without_reason(Judgement& judgement, std::string text);

/// The gas, its papers and the quiet of the signal.
void judge_point(const TakenPoint& point, WallTime performed, const JudgementRules& rules, Judgement& judgement);
/// Whether the fresh air was fresh.
void judge_air(const CalibrationRecord& proposed, const Circumstances& circumstances, const JudgementRules& rules,
               Judgement& judgement);
/// Readings as found against the gas.
void judge_check(const CalibrationRecord& proposed, const JudgementRules& rules, Judgement& judgement);
/// What the new calibration says of the cell, against what is known of it.
void judge_adjustment(const CalibrationRecord& proposed, const std::vector<CalibrationRecord>& records,
                      const Circumstances& circumstances, const JudgementRules& rules, Judgement& judgement);

} // namespace oxherd::daemon
