find_package(rapidcheck REQUIRED)
target_link_libraries(compensation_tests PRIVATE rapidcheck)
# Millions of readings: these stay optimised where the rest is not, and come out of the unity files for it.
set_source_files_properties(${CMAKE_CURRENT_SOURCE_DIR}/compensation/monte_carlo_test.cpp
                            ${CMAKE_CURRENT_SOURCE_DIR}/compensation/uncertainty_test.cpp
                            PROPERTIES COMPILE_OPTIONS -O2 SKIP_UNITY_BUILD_INCLUSION ON)
