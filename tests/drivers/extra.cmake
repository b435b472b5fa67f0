target_sources(drivers_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/drivers/scripted_peer.cpp)
target_link_libraries(drivers_tests PRIVATE util) # openpty
