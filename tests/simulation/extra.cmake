target_sources(simulation_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/simulation/simulated_day.cpp)
