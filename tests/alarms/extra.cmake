# A second model of the alarms, in another language and of another shape, must agree with the first on random traces.
find_package(fmt REQUIRED)
find_package(rapidcheck REQUIRED)
target_link_libraries(alarms_tests PRIVATE rapidcheck)
find_package(Python3 REQUIRED COMPONENTS Interpreter)

add_executable(alarm_traces ${CMAKE_CURRENT_LIST_DIR}/traces.cpp)
target_link_libraries(alarm_traces PRIVATE oxherd_alarms oxherd_flags fmt::fmt)
add_dependencies(alarms_tests alarm_traces) # whoever builds the folder's tests builds all of them

add_test(NAME alarms.second_model
         COMMAND ${Python3_EXECUTABLE} ${CMAKE_CURRENT_LIST_DIR}/model.py $<TARGET_FILE:alarm_traces> --traces 4000)
add_test(NAME alarms.second_model_notices_differences
         COMMAND ${Python3_EXECUTABLE} ${CMAKE_CURRENT_LIST_DIR}/model.py $<TARGET_FILE:alarm_traces> --traces 300 --spoil)
set_tests_properties(alarms.second_model alarms.second_model_notices_differences PROPERTIES TIMEOUT 120)
