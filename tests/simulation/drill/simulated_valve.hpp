#pragma once

#include <optional>

#include "daemon/bus/output_write.hpp"
#include "tests/simulation/drill/happening.hpp"

namespace oxherd::drill {

/// A coil of an output module with the gas valve behind it, as they truly are. The module drops its coil by itself when
/// nothing has been written for a while, as README demands; a contact may follow the valve.
class SimulatedValve {
public:
  struct Faults {
    bool silent = false;      ///< the module answers nothing
    bool coil_stuck = false;  ///< it takes writes, and its coil stays as it is
    bool valve_stuck = false; ///< the coil moves, the valve does not
    Monotonic late{0};        ///< the valve follows its coil so much later
    friend bool operator==(const Faults&, const Faults&) = default;
  };
  void befall(const Faults& faults, Monotonic now);
  void reboot(Monotonic now); ///< its coil drops

  /// A write that comes to it now, and the questions behind it.
  [[nodiscard]] daemon::WriteResult write(const daemon::OutputWrite& what, Monotonic now);
  void advance_to(Monotonic now);
  /// When it changes by itself, if nothing is written.
  [[nodiscard]] std::optional<Monotonic> due() const;
  [[nodiscard]] bool is_open() const { return open_; }
  [[nodiscard]] bool coil() const { return coil_; }
  [[nodiscard]] bool is_stuck() const { return faults_.coil_stuck || faults_.valve_stuck; }
  [[nodiscard]] const Faults& faults() const { return faults_; }

private:
  void set_coil(bool on, Monotonic at);

  Faults faults_;
  bool coil_ = false, open_ = false;
  Monotonic written_at_{0}, coil_since_{0};
};

/// Of the module, without a write.
inline constexpr Monotonic module_time_out{8000};

} // namespace oxherd::drill
