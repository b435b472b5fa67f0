target_sources(drivers_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/drivers/child_process.cpp
                                     ${CMAKE_CURRENT_SOURCE_DIR}/drivers/scripted_peer.cpp)
target_link_libraries(drivers_tests PRIVATE util) # openpty

# Servers from npm; skipped, and listed as such, until tests/system/modbus_peers/install has been run.
add_executable(drivers_npm_peers ${CMAKE_CURRENT_SOURCE_DIR}/drivers/npm_peers.cpp
                                 ${CMAKE_CURRENT_SOURCE_DIR}/drivers/child_process.cpp)
target_link_libraries(drivers_npm_peers PRIVATE oxherd_drivers oxherd_flags GTest::gtest)
target_compile_definitions(drivers_npm_peers PRIVATE OXHERD_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
add_dependencies(drivers_tests drivers_npm_peers) # whoever builds the folder's tests builds all of them
add_test(NAME drivers.npm_peers COMMAND drivers_npm_peers)
set_tests_properties(drivers.npm_peers PROPERTIES SKIP_RETURN_CODE 77 TIMEOUT 120)
