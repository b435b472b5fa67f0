# The house rules that no compiler checks.
find_package(Python3 REQUIRED COMPONENTS Interpreter)
add_test(NAME tidy COMMAND ${Python3_EXECUTABLE} ${CMAKE_CURRENT_LIST_DIR}/tidy.py ${PROJECT_SOURCE_DIR})
add_test(NAME tidy.every_rule_fires COMMAND ${Python3_EXECUTABLE} ${CMAKE_CURRENT_LIST_DIR}/tidy_test.py)
set_tests_properties(tidy tidy.every_rule_fires PROPERTIES TIMEOUT 60)
