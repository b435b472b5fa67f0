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

# The drill, see DEVELOPERS.md: a program of its own, without the interfaces that simulation_tests needs. It has no
# threads.
if(NOT OXHERD_SANITIZE MATCHES "thread")
  file(GLOB drill CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/simulation/drill/*.cpp)
  add_executable(oxherd_drill ${drill})
  target_compile_definitions(oxherd_drill PRIVATE OXHERD_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
  target_link_libraries(oxherd_drill PRIVATE oxherd_core oxherd_store oxherd_mqtt oxherd_flags)
  oxherd_optimised(oxherd_drill)
  add_dependencies(simulation_tests oxherd_drill) # so that `tests/run --folders simulation` has it
  # The seed is that of OXHERD_SEED, else a fixed one, so that no change is refused for an old fault; it is printed. Many
  # years are for tests/simulation/run. Instrumented it is slow, and the code is the same: what failed once is enough there.
  set(modes once-failed)
  if(NOT OXHERD_SANITIZE)
    list(APPEND modes repeat breakages)
    foreach(shard RANGE 3)
      add_test(NAME simulation.drill.years_${shard} COMMAND oxherd_drill --room-years 5 --shard ${shard})
      set_tests_properties(simulation.drill.years_${shard} PROPERTIES TIMEOUT 600 COST 100)
    endforeach()
  endif()
  foreach(mode ${modes})
    add_test(NAME simulation.drill.${mode} COMMAND oxherd_drill --${mode} --seed 1)
    set_tests_properties(simulation.drill.${mode} PROPERTIES TIMEOUT 600 COST 60)
  endforeach()
endif()
