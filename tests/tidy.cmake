# The house rules that no compiler checks.
find_package(Python3 REQUIRED COMPONENTS Interpreter)
add_test(NAME tidy COMMAND ${Python3_EXECUTABLE} ${CMAKE_CURRENT_LIST_DIR}/tidy.py ${PROJECT_SOURCE_DIR})
add_test(NAME tidy.every_rule_fires COMMAND ${Python3_EXECUTABLE} ${CMAKE_CURRENT_LIST_DIR}/tidy_test.py)
# Every row of README's table of faults has a test that shows it.
find_program(MATRIX_PYTHON NAMES python3 PATHS /usr/bin NO_DEFAULT_PATH REQUIRED)
add_test(NAME fault_matrix COMMAND ${MATRIX_PYTHON} ${CMAKE_CURRENT_LIST_DIR}/fault_matrix.py ${PROJECT_SOURCE_DIR})
set_tests_properties(tidy tidy.every_rule_fires fault_matrix PROPERTIES TIMEOUT 60)
