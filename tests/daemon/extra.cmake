target_sources(daemon_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/daemon/room/annexe.cpp)
