#pragma once

#include <optional>

namespace oxherd::control {

/// A straight piece of a course between two samples.
struct Piece {
  double start_s = 0;
  double length_s = 0; ///< above 0
  double from = 0;
  double to = 0;
  [[nodiscard]] double end_s() const { return start_s + length_s; }
  /// When the piece passes a level it crosses.
  [[nodiscard]] double passes_s(double level) const { return start_s + length_s * (level - from) / (to - from); }
};

/// How a loop answered a step of its set-point, as far as it was seen.
struct StepFigures {
  double size = 0;                    ///< set-point less the value when it stepped, a single reading
  std::optional<double> rise_s{};     ///< from 10 to 90 % of the way
  double overshoot = 0;               ///< beyond the set-point, ratio of the size
  std::optional<double> settling_s{}; ///< since then within the settling band; empty while it is not
  bool under_way = false;             ///< nothing has ended it: another set-point, manual operation, a gap
};

/// Follows the answer to the last step in constant memory.
class StepWatch {
public:
  explicit StepWatch(double settled_within) : within_{settled_within} {}
  /// The set-point has stepped: the answer begins at this value.
  void begin(double at_s, double value, double set_point);
  void add(const Piece& value); ///< a piece of the value's course
  void stop();                  ///< what follows tells no more of this step; what was found stays
  [[nodiscard]] std::optional<StepFigures> figures() const;

private:
  double within_;
  double begun_s_ = 0, value_ = 0;
  std::optional<double> tenth_s_, inside_since_s_;
  std::optional<StepFigures> figures_{};
};

/// What counts as an oscillation of the error.
struct OscillationSettings {
  double amplitude_least = 0; ///< a, in the unit of the value; smaller ones do not matter. 0: nothing is judged
  /// Of the fastest oscillation the loop can have: the ultimate period, or else the integral time. 0: not judged.
  double period_s = 0;
  double remembered_periods = 50;
  double loads_most = 10;
};

/// An oscillation, or none.
struct Oscillation {
  bool oscillating = false;
  double loads = 0;                   ///< half waves that were large enough, the older the less
  std::optional<double> period_s{};   ///< twice the mean length of such half waves
  std::optional<double> amplitude{};  ///< of a sine with the mean area of such half waves
  std::optional<double> regularity{}; ///< a third of mean over standard deviation of their length; above 1: regular
};

/// Integrates the absolute error between its changes of sign. A half wave counts when its area is that of a sine with
/// amplitude a and the ultimate frequency, 2 a / omega, or more; what counted fades over the remembered periods.
/// @source T. Hagglund, "A control-loop performance monitor", Control Engineering Practice 3 (1995) 1543, from memory
///         but for the abstract; regularity: Thornhill, Huang and Zhang, J. Process Control 13 (2003) 91, from memory
class OscillationWatch {
public:
  explicit OscillationWatch(const OscillationSettings& settings) : settings_{settings} {}
  void add(const Piece& error);
  void interrupt(); ///< the half wave under way is not a whole one
  [[nodiscard]] Oscillation figures() const;

private:
  void add_one_sign(const Piece& error);
  void change_sign(double at_s);

  OscillationSettings settings_;
  int sign_ = 0;       ///< of the half wave under way; 0: none
  bool whole_ = false; ///< whether it was seen from its beginning
  double begun_s_ = 0, area_ = 0;
  double loads_ = 0;
  long count_ = 0; ///< of half waves that were large enough; their lengths and areas follow
  double mean_s_ = 0, squares_s2_ = 0, mean_area_ = 0;
};

/// Tells whether a loop answers disturbances sluggishly: while it only creeps back, output and value move the same way.
/// @source T. Hagglund, "Automatic detection of sluggish control loops", Control Engineering Practice 7 (1999) 1505,
///         from memory. Here a move counts once the value has moved by its noise, in place of that paper's filters.
class IdleWatch {
public:
  struct Settings {
    double noise = 0;   ///< of the value; 0: nothing is judged
    bool raises = true; ///< whether more output raises the value
  };
  explicit IdleWatch(const Settings& settings) : settings_{settings} {}
  void add(double at_s, double output, double value);
  void interrupt() { reference_.reset(); }
  /// From -1 to 1: near 1 sluggish, near 0 well tuned, near -1 well tuned or oscillating. Empty before any move.
  [[nodiscard]] std::optional<double> index() const;

private:
  struct Point {
    double at_s, output, value;
  };
  Settings settings_;
  std::optional<Point> reference_{};
  double same_s_ = 0, opposite_s_ = 0;
};

} // namespace oxherd::control
