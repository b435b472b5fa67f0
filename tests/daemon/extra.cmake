target_sources(daemon_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/daemon/room/annexe.cpp)
find_package(nlohmann_json REQUIRED)
target_link_libraries(daemon_tests PRIVATE oxherd_cli nlohmann_json::nlohmann_json)
