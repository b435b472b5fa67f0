target_sources(simulation_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/simulation/controlled_site.cpp
                                         ${CMAKE_CURRENT_SOURCE_DIR}/simulation/interlock_watch.cpp
                                         ${CMAKE_CURRENT_SOURCE_DIR}/simulation/simulated_day.cpp
                                         ${CMAKE_CURRENT_SOURCE_DIR}/simulation/simulated_module.cpp
                                         ${CMAKE_CURRENT_SOURCE_DIR}/simulation/site_reading.cpp
                                         ${CMAKE_CURRENT_SOURCE_DIR}/daemon/room/annexe.cpp)
find_package(nlohmann_json REQUIRED)
target_link_libraries(simulation_tests PRIVATE oxherd_cli oxherd_rehearse nlohmann_json::nlohmann_json)
find_package(rapidcheck REQUIRED)
target_link_libraries(simulation_tests PRIVATE rapidcheck)
