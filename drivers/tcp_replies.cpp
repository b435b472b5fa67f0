#include "drivers/tcp_replies.hpp"

#include <algorithm>

namespace oxherd::drivers {

std::optional<std::size_t> take_replies(std::span<const std::uint8_t> bytes, std::vector<OnItsWay>& waiting,
                                        AnswersTogether& answers) {
  std::size_t taken = 0;
  while (bytes.size() - taken >= tcp_header_bytes) {
    const auto rest = bytes.subspan(taken);
    const int transaction = rest[0] * 256 + rest[1];
    const auto of = std::find_if(waiting.begin(), waiting.end(),
                                 [&](const OnItsWay& sent) { return sent.id.transaction == transaction; });
    if (of == waiting.end()) return std::nullopt;
    const auto length = check_tcp_header(of->id, rest.first<tcp_header_bytes>());
    if (!length) return std::nullopt;
    if (rest.size() < tcp_header_bytes + *length) break;
    auto reply = check_reply(of->request, rest.subspan(tcp_header_bytes, *length));
    if (!reply && !reply.error().line_in_step()) return std::nullopt;
    if (reply) answers[of->place] = *std::move(reply);
    waiting.erase(of);
    taken += tcp_header_bytes + *length;
  }
  return taken;
}

} // namespace oxherd::drivers
