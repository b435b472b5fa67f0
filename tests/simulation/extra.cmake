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

# The drill, see DEVELOPERS.md: a program of its own, without the interfaces that simulation_tests needs.
add_executable(oxherd_drill EXCLUDE_FROM_ALL # tests/simulation/run builds it
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/main.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/drill.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/happening.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/shrink.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/simulated_broker.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/simulated_bus.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/simulated_disk.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/simulated_records.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/site_plan.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/tally.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/true_air.cpp
  ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/watch.cpp)
target_compile_definitions(oxherd_drill PRIVATE OXHERD_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
target_link_libraries(oxherd_drill PRIVATE oxherd_core oxherd_store oxherd_mqtt oxherd_flags)
set_target_properties(oxherd_drill PROPERTIES UNITY_BUILD OFF)
