#include "daemon/urgent_thread.hpp"

#include <sched.h>

namespace oxherd::daemon {

bool make_thread_urgent() {
  sched_param least{};
  least.sched_priority = ::sched_get_priority_min(SCHED_RR);
  return ::sched_setscheduler(0, SCHED_RR | SCHED_RESET_ON_FORK, &least) == 0; // 0: this thread, not the process
}

} // namespace oxherd::daemon
