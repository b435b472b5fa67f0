#include "daemon/store/disk_room.hpp"

#include <fstream>

#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::disk_room_test {

using store::DiskRoom;
using store::must_shorten;

constexpr std::int64_t MB = 1'000'000;

TEST(DiskRoom, CountsDatabasesWithTheirLogsAndNothingElse) {
  const store_test::ScratchDir dir;
  std::ofstream{dir.path() / "measurements.sqlite"} << std::string(1000, 'x');
  std::ofstream{dir.path() / "measurements.sqlite-wal"} << std::string(200, 'x');
  std::ofstream{dir.path() / "users.json"} << std::string(50, 'x');
  const auto room = store::disk_room(dir.path());
  EXPECT_EQ(room.bytes, 1200U);
  EXPECT_GT(room.capacity, 0U);
  EXPECT_GT(room.free_share, 0.0);
  EXPECT_LE(room.free_share, 1.0);
}

TEST(DiskRoom, IsNotKnownOfAFolderThatIsNotThere) {
  const auto room = store::disk_room("/no/such/folder");
  EXPECT_EQ(room.capacity, 0U);
  EXPECT_EQ(room.free_share, 1.0);
}

TEST(DiskRoom, ShortensOnlyWhileTheDiskIsShortAndTheFileItselfHasNoRoom) {
  const DiskRoom ample{0, 1'000'000 * MB, 0.051}, tight{0, 1'000'000 * MB, 0.049};
  EXPECT_FALSE(must_shorten(ample, 0.05, 0));
  EXPECT_TRUE(must_shorten(tight, 0.05, 0));
  EXPECT_TRUE(must_shorten(tight, 0.05, 500 * MB));
  EXPECT_FALSE(must_shorten(tight, 0.05, 540 * MB)) << "deleting makes the file no smaller";
}

TEST(DiskRoom, OfASmallDiskLeavesAHundredthWithinTheFile) {
  const DiskRoom tight{0, 1000 * MB, 0.01};
  EXPECT_TRUE(must_shorten(tight, 0.05, 9 * MB));
  EXPECT_FALSE(must_shorten(tight, 0.05, 11 * MB));
}

} // namespace oxherd::daemon::disk_room_test
