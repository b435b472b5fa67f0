target_sources(daemon_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/daemon/room/annexe.cpp
                                    ${CMAKE_CURRENT_SOURCE_DIR}/daemon/control/rig.cpp
                                    ${CMAKE_CURRENT_SOURCE_DIR}/daemon/store/volatile_disk.cpp)
find_package(nlohmann_json REQUIRED)
target_link_libraries(daemon_tests PRIVATE oxherd_cli nlohmann_json::nlohmann_json)
find_package(rapidcheck REQUIRED)
target_link_libraries(daemon_tests PRIVATE oxherd_collect oxherd_commission oxherd_logfile oxherd_rehearse rapidcheck GTest::gmock)
find_program(DAEMON_PYTHON NAMES python3 PATHS /usr/bin NO_DEFAULT_PATH REQUIRED)
# Every zone of the database, with Python's zoneinfo beside it.
add_test(NAME daemon.zones COMMAND ${DAEMON_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/daemon/logfile/zones.py
                                   $<TARGET_FILE:oxherd>)
set_tests_properties(daemon.zones PROPERTIES TIMEOUT 300)
# The program itself: standard input and output, memory that does not grow, and a second calculation of the same file.
add_test(NAME daemon.correct_program COMMAND ${DAEMON_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/daemon/logfile/program.py
                                             $<TARGET_FILE:oxherd> ${PROJECT_SOURCE_DIR} "${OXHERD_SANITIZE}")
set_tests_properties(daemon.correct_program PROPERTIES TIMEOUT 120)
# A watch in a real terminal, and in none.
add_test(NAME daemon.terminal COMMAND ${DAEMON_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/daemon/cli/terminal.py
                                      $<TARGET_FILE:oxherd>)
set_tests_properties(daemon.terminal PROPERTIES TIMEOUT 300)
if(NOT OXHERD_SANITIZE) # what they look at is text; once is enough
  # What real shells complete: some thirty shells are started.
  add_test(NAME daemon.shells COMMAND ${DAEMON_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/daemon/cli/shells.py
                                      $<TARGET_FILE:oxherd>)
  set_tests_properties(daemon.shells PROPERTIES TIMEOUT 600)
  # The manual pages, by the programs that show them.
  add_test(NAME daemon.pages COMMAND ${DAEMON_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/daemon/cli/pages.py
                                     $<TARGET_FILE:oxherd> ${PROJECT_SOURCE_DIR})
  set_tests_properties(daemon.pages PROPERTIES TIMEOUT 300)
endif()
