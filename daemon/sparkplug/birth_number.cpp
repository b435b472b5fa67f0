#include "daemon/sparkplug/birth_number.hpp"

#include <fstream>

#include "daemon/whole_file.hpp"

namespace oxherd::daemon::sparkplug {

std::uint8_t BirthNumber::next(std::string& trouble) {
  if (!is_read_) {
    std::ifstream in{file_};
    unsigned last = 0;
    if (in >> last && last <= 255) last_ = static_cast<std::uint8_t>(last); // else there was none: the first is 0
    is_read_ = true;
  }
  ++last_; // 255 is followed by 0
  const auto written = write_whole_file(file_, std::to_string(last_) + "\n");
  trouble = written ? "" : written.error();
  return last_;
}

} // namespace oxherd::daemon::sparkplug
